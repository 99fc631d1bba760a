/* Room for tables. */
#ifndef NEXTPROBE_MEMORY_H
#define NEXTPROBE_MEMORY_H

#include <stdlib.h>

/* At least one element more than `count`, all zero; sets `failure` when memory is short. */
static inline void *zeroes(size_t count, size_t size, int *failure)
{
    void *block = calloc(count + 1, size);
    *failure |= !block;
    return block;
}

#endif

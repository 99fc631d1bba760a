/* A transposition table: from sub-problems to bounds of their cost. */
#ifndef NEXTPROBE_MEMO_H
#define NEXTPROBE_MEMO_H

#include "problem.h"

/* What the table holds of a sub-problem. */
typedef struct {
    uint64_t hash;
    double lower, upper;
    int32_t test;     /* what achieves `upper`: a pick (`frame_pick`), or NO_TEST to stop */
    uint32_t effort;  /* expansions spent below */
    uint8_t in_use;   /* whether the slot holds anything */
    uint8_t level;    /* of the bounds that it was held against, 0 before any */
    uint8_t pass;     /* of the greedy plans that last came here, 0 before any */
} Entry;

typedef struct {
    unsigned char *slots;
    size_t stride, count, capacity, most;
    size_t key_words;
} Memo;

/* Returns 0 when memory is short. `most_bytes` is what the table may grow to. */
int memo_open(Memo *memo, size_t key_words, size_t most_bytes);
void memo_close(Memo *memo);

/* The entry of the key, or NULL. */
Entry *memo_find(Memo *memo, const Word *key);

/* The entry of the key, made if missing. Pointers to entries die with the next claim. */
Entry *memo_claim(Memo *memo, const Word *key);

#endif

/* A circuit over time. */
#ifndef SOLVER_TRANSIENT_H
#define SOLVER_TRANSIENT_H

#include "equations.h"

typedef struct {
    double *rows; /* time, then each pick, for each moment */
    long count, room;
    int width;
} Wave;

/* Runs from everything empty at time zero; `picks` are the variables to keep. Whether it came to
 * the end. */
int transient_run(Equations *q, double seconds, double step, int second_order, const int *picks,
                  Wave *wave);

/* Lets the circuit settle with its sources as they are, from the x there is. Whether it did. */
int transient_settle(Equations *q);

#endif

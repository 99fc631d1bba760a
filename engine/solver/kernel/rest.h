/* A circuit at rest: what a meter drops across it. */
#ifndef SOLVER_REST_H
#define SOLVER_REST_H

#include "equations.h"

/* The volts between the meter's ends for each of `count` resistances behind its volts, ending with
 * the first whose drop is at most `enough`; how many there are, 0 where there is no solution. */
int rest_drops(Equations *q, double volts, const double *ohms, int count, double enough,
               double *drops);

/* The point of rest without a meter. Whether there is one. */
int rest_point(Equations *q);

#endif

/* Sparse LU with an order of pivots that is found once and kept. */
#ifndef SOLVER_SPARSE_H
#define SOLVER_SPARSE_H

typedef struct {
    int n, slots;
    int *row, *col;   /* of each slot */
    char *steady;     /* whether a slot keeps its value while the step does */
} Pattern;

typedef struct {
    int n, size, steady; /* unknowns; values with fill; pivots among steady entries alone */
    int *place;          /* slot -> value; the last slot is for what goes nowhere */
    int *row, *col;      /* of each pivot */
    int *pivot, *upper;  /* value of each pivot; how many values of its row follow it */
    int *upper_col;      /* of each value: whose pivot's column it stands in */
    int *lower;          /* n + 1: where each pivot's column below begins in the next two */
    int *lower_value, *lower_row;
    int *target, *target_of; /* values that elimination changes; where each pivot's begin */
} Order;

/* An order for a matrix with these values, its `lower` null where memory runs out or the matrix is
 * singular. O(n entries) to O(n^3). */
Order order_make(const Pattern *pattern, const double *values);
void order_free(Order *order);

/* Eliminates pivots `from` to `to`; `inverse` takes one over each. Whether all could be. */
int order_eliminate(const Order *order, int from, int to, double *values, double *inverse);

/* Solves for x by column from the right side by row, in `work` of n. */
void order_solve(const Order *order, const double *values, const double *inverse,
                 const double *right, double *work, double *x);

#endif

/* A circuit's equations at one moment, and Newton's way to their solution. */
#ifndef SOLVER_EQUATIONS_H
#define SOLVER_EQUATIONS_H

#include "circuit.h"

/* A derivative over time as a sum: now, one step ago, two steps ago; per second. All 0: at rest. */
typedef struct {
    double now, before, earlier;
} Rate;

/* How near is near enough, and what small conductances lie about. */
typedef struct {
    double relative, volts, amperes;
    double shunt, junction; /* siemens from each node to ground, and across each junction */
    int rounds;             /* after which Newton has lost its way */
} Care;

/* A meter between two variables: a source of volts behind ohms. */
typedef struct {
    int a, b;
    double siemens, volts;
} Meter;

typedef struct {
    long rounds, orders; /* how often equations were solved, and put in order */
} Effort;

typedef struct {
    Circuit *circuit;
    Order order;
    Rate rate;
    Care care;
    Meter meter;
    Effort effort;
    double scale; /* of all independent sources, 1 but on the way to a solution */
    int *as_slots; /* 0, 1, 2 ...: places before there is an order */
    double *x;     /* of each variable */
    double *base;  /* of each slot: what does not change while the step does not */
    double *right_base, *right; /* of each row, and one that goes nowhere */
    double *ready, *values, *inverse, *work, *next, *slots, *formula_work;
    int room; /* of ready and values */
} Equations;

const char *equations_make(Equations *equations, Circuit *circuit);
void equations_free(Equations *equations);

/* Sets how derivatives are taken, and works out what stays the same with it. */
void equations_set_rate(Equations *equations, Rate rate);

/* Puts known variables and the right side to a time; `history`: with what stores hold. */
void equations_set_time(Equations *equations, double time);

/* Newton from the x there is. Whether it came to an end within the care's rounds. */
int equations_solve(Equations *equations);

/* Puts each curved element as a straight line at x; whether a junction was kept from jumping. */
int equations_straighten(Equations *equations);

/* The matrix at x by slots, curved elements as straight as they are. */
void equations_matrix(Equations *equations, double *slots);

/* Takes the solution as the newest past. */
void equations_accept(Equations *equations);

#endif

/* A circuit as Python hands it over, and what is worked out of it once. */
#ifndef SOLVER_CIRCUIT_H
#define SOLVER_CIRCUIT_H

#include "expression.h"
#include "sparse.h"

/* As numbered in engine/solver/network.py. */
enum {
    KIND_RESISTOR = 1, KIND_CAPACITOR, KIND_INDUCTOR, KIND_DIODE, KIND_VOLTS, KIND_AMPERES,
    KIND_STRAIGHT_AMPERES, KIND_STRAIGHT_VOLTS, KIND_CURVED_AMPERES, KIND_CURVED_VOLTS
};

typedef struct {
    int kind, a, b, branch, place; /* where its figures, or its program, begin */
} Element;

typedef struct {
    const Element *elements;
    const double *figures;
    const int *programs;
    const char *branches; /* of each variable but ground: whether it is amperes */
    int count, variables; /* ground included */
    long figure_room, program_room;
} Netlist;

/* A straight sum or a curved expression: of which variables, and its numbers. */
typedef struct {
    int count;
    const int *names;
    const double *numbers;
    Expression expression;
} Formula;

typedef struct {
    int a, b, row_a, row_b, slot[4];
    int knows_a, knows_b; /* whether an end's volts are a source's */
    double amperes, thermal, ohms, farads, junction, grading; /* the model's figures */
    double breakdown, breakdown_thermal, critical;
    double volts, conductance, offset;                         /* the last straight line */
    double charge, before, earlier;
} Diode;

typedef struct {
    Formula formula;
    double sign_a, sign_b; /* what a value of one adds to the left side of each row */
    int row_a, row_b, begin; /* the first of its slots: for each variable, row a and row b */
    double rest;             /* its straight line: at no volts, the slopes, where it touches */
    double *slope, *at;
    int fresh;               /* whether there is none yet */
} Curve;

typedef struct {
    int a, b;
    double farads, before, earlier; /* volts one and two steps ago */
} Store;

typedef struct {
    int row, branch;
    double henries, before, earlier; /* amperes */
} Coil;

typedef struct {
    int row, variable;
    double factor;
} Known;

typedef struct {
    const Netlist *netlist;
    int unknowns;
    int *column, *row; /* of each variable: its column, and the row of its sum of currents; -1 */
    int *slot_of;      /* unknowns x unknowns: the slot of row and column; -1 */
    Pattern pattern;
    Diode *diodes;
    Curve *curves;
    Store *stores;
    Coil *coils;
    Known *knowns;     /* what variables that are no unknowns add to the right side */
    int *curve_slots;
    int diode_count, curve_count, store_count, coil_count, known_count, known_room;
} Circuit;

/* Reads and lays out a netlist, with room for a conductance between variables `a` and `b`. Null
 * where all is well, otherwise what is wrong. */
const char *circuit_make(Circuit *circuit, const Netlist *netlist, int a, int b);
void circuit_free(Circuit *circuit);

/* The formula of a straight or curved element, which was found sound. */
Formula circuit_formula(const Netlist *netlist, const Element *element);

/* The slot of row and column; the one that goes nowhere where either is -1. */
int circuit_slot(const Circuit *circuit, int row, int column);

#endif

/* Expressions in a row: operations on earlier values, with their derivatives. */
#ifndef SOLVER_EXPRESSION_H
#define SOLVER_EXPRESSION_H

/* As numbered in engine/solver/expressions.py. */
enum {
    OP_ADD, OP_SUB, OP_MUL, OP_DIV, OP_NEG, OP_MIN, OP_MAX, OP_ABS, OP_TANH, OP_EXP, OP_POW,
    OP_WHOLE, OP_SGN, OP_LESS, OP_SELECT, OP_SQRT, OP_LN, OP_SIN, OP_COS, OP_ATAN, OP_NOT_MORE,
    OP_COUNT
};

typedef struct {
    int variables, constants, count;
    const int *operations; /* code and three operands of each */
    const double *constant;
} Expression;

/* Values that `work` must hold for one expression, twice: values and derivatives. */
int expression_room(const Expression *e);

/* Whether codes and operands are in range. */
int expression_sound(const Expression *e);

/* The value at variables `x`; their partial derivatives go to `partial`. O(operations). */
double expression_value(const Expression *e, const double *x, double *partial, double *work);

#endif

/* Variables climbed by their gradients. */
#ifndef NEXTPROBE_ADAM_H
#define NEXTPROBE_ADAM_H

#include <stddef.h>

typedef struct {
    size_t count;
    double *value, *gradient;
    double *mean, *square;   /* running means of the gradient and of its square */
} Variables;

/* The step that all variables are at. */
typedef struct {
    double rate;
    int steps;
    double mean_bias, square_bias; /* how far the running means have come from nothing */
} Adam;

void variables_make(Variables *v, size_t count, int *failure);
void variables_free(Variables *v);

/* Count a step and its biases. */
void adam_begin(Adam *a);

/* One step up of the variables in [from, to); their gradients are set to nothing for the next. */
void adam_step(const Adam *a, Variables *v, size_t from, size_t to);

#endif

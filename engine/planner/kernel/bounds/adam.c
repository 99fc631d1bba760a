/* Ascent by gradients, each variable at a pace of its own: D. P. Kingma and J. Ba, "Adam",
 * arXiv:1412.6980. A step takes O(variables). */
#include <math.h>
#include "adam.h"
#include "memory.h"

static const double MEAN_DECAY = 0.9, SQUARE_DECAY = 0.99;

void variables_make(Variables *v, size_t count, int *failure)
{
    v->count = count;
    v->value = zeroes(count, sizeof(double), failure);
    v->gradient = zeroes(count, sizeof(double), failure);
    v->mean = zeroes(count, sizeof(double), failure);
    v->square = zeroes(count, sizeof(double), failure);
}

void variables_free(Variables *v)
{
    free(v->value);
    free(v->gradient);
    free(v->mean);
    free(v->square);
}

void adam_begin(Adam *a)
{
    a->steps++;
    a->mean_bias = 1 - pow(MEAN_DECAY, a->steps);
    a->square_bias = 1 - pow(SQUARE_DECAY, a->steps);
}

void adam_step(const Adam *a, Variables *v, size_t from, size_t to)
{
    double mean = 1 / a->mean_bias, square = 1 / a->square_bias, rate = a->rate;
    for (size_t i = from; i < to; i++) {
        v->mean[i] += (1 - MEAN_DECAY) * (v->gradient[i] - v->mean[i]);
        v->square[i] += (1 - SQUARE_DECAY) * (v->gradient[i] * v->gradient[i] - v->square[i]);
        v->value[i] += rate * v->mean[i] * mean / (sqrt(v->square[i] * square) + 1e-12);
        v->gradient[i] = 0;
    }
}

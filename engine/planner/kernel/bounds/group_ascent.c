/* The climb to good dual prices: the dual function, and smoothed ascent on it.
 *
 * Steps go along gradients of the smoothed dual function, with ever less smoothing (Yu. Nesterov,
 * Mathematical Programming 103, 2005), by Adam, shares of cuts by multiplicative weights. The bound
 * itself is read off the function as it is. A step takes O(memberships x tests x outcomes). */
#include "group_dual.h"

enum { STEPS = 300, TRIAL_STEPS = 8 };

static const double FIRST_RATE = 0.08;

/* Smoothing, in parts of the minutes of a test. */
static const double FIRST_TEMPERATURE = 0.15, LAST_TEMPERATURE = 0.006;

/* What rounding may have added to the greatest bound. */
static const double ROUNDING = 1e-9;

/* Minutes that a test takes on average, as a scale for smoothing. */
static double mean_minutes(const Problem *p)
{
    double sum = 0;
    for (int t = 0; t < p->tests.count; t++)
        sum += p->tests.minutes[t];
    return sum > 0 ? sum / p->tests.count : 1;
}

double dual_value(Groups *g, double temperature)
{
    adam_begin(&g->adam);
    prices_spread(g);
    double sum = leaves_cost(g, temperature);
    for (int t = 0; t < g->problem->tests.count; t++)
        sum -= test_profit(g, t, temperature);
    return sum;
}

static void step(Groups *g, double temperature)
{
    double value = dual_value(g, temperature);
    prices_step(g);
    leaves_step(g);
    cut_shares_step(g);
    if (value > g->best)
        g->best = value;
}

double groups_ascend(Groups *g, Monitor *m, double until)
{
    double scale = mean_minutes(g->problem), begin = m->time_share(m->self);
    int most = STEPS;
    for (int i = 0; i < most && !m->stop; i++) {
        double rest = 1 - (double)i / most, temperature = FIRST_TEMPERATURE * rest * rest;
        g->adam.rate = FIRST_RATE * (rest + 0.02);
        step(g, scale * (temperature > LAST_TEMPERATURE ? temperature : LAST_TEMPERATURE));
        monitor_look(m);
        double time = m->time_share(m->self);
        if (i == TRIAL_STEPS && time > begin) {
            int fit = (int)((until - time) / (time - begin) * (TRIAL_STEPS + 1));
            most = fit < STEPS ? fit : STEPS;
        }
        if (time >= until && until < 1)
            break;
    }
    return g->best * (1 - ROUNDING);
}

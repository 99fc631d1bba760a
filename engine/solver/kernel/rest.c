/* Points of rest: from the last one, from nothing, with junctions made leaky and less and less so
 * (gmin stepping), with sources raised from nothing, and last by letting the circuit settle over
 * ever longer steps (pseudo-transient continuation). */
#include "rest.h"

#include <math.h>
#include <string.h>

#include "transient.h"

/* The first leak across junctions, siemens, and its fall from round to round. Of the algorithm. */
static const double FIRST_LEAK = 1e-3, LEAK_FALL = 0.1;
/* Sources are raised in steps of at least this. Of the algorithm. */
static const double FIRST_RISE = 0.1, LEAST_RISE = 1e-4;

static const Rate AT_REST = {0, 0, 0};

static int solve_at(Equations *q)
{
    equations_set_rate(q, AT_REST);
    equations_set_time(q, 0);
    return equations_solve(q);
}

static void forget(Equations *q)
{
    Circuit *c = q->circuit;
    memset(q->x, 0, (size_t)c->netlist->variables * sizeof *q->x);
    for (int k = 0; k < c->diode_count; k++)
        c->diodes[k].volts = c->diodes[k].conductance = c->diodes[k].offset = 0;
    order_free(&q->order);
}

static int with_leaks(Equations *q)
{
    double least = q->care.junction;
    int done = 1;
    for (double leak = FIRST_LEAK; done && leak > least; leak *= LEAK_FALL) {
        q->care.junction = leak;
        done = solve_at(q);
    }
    q->care.junction = least;
    return done && solve_at(q);
}

static int with_sources_raised(Equations *q)
{
    double rise = FIRST_RISE, reached = 0, volts = q->meter.volts;
    int done = 0;
    while (rise >= LEAST_RISE && !done) {
        double scale = fmin(1, reached + rise);
        q->scale = scale;
        q->meter.volts = volts * scale;
        if (solve_at(q)) {
            reached = scale;
            done = reached >= 1;
            rise *= 2;
        } else {
            rise *= 0.25;
            forget(q);
        }
    }
    q->scale = 1;
    q->meter.volts = volts;
    return done;
}

int rest_point(Equations *q)
{
    if (solve_at(q))
        return 1;
    forget(q);
    if (solve_at(q))
        return 1;
    forget(q);
    if (with_leaks(q))
        return 1;
    forget(q);
    if (with_sources_raised(q))
        return 1;
    forget(q);
    return transient_settle(q) && solve_at(q);
}

int rest_drops(Equations *q, double volts, const double *ohms, int count, double enough,
               double *drops)
{
    q->meter.volts = volts;
    for (int k = 0; k < count; k++) {
        q->meter.siemens = 1 / ohms[k];
        if (!rest_point(q))
            return 0;
        drops[k] = q->x[q->meter.a] - q->x[q->meter.b];
        if (fabs(drops[k]) <= enough)
            return k + 1;
    }
    return count;
}

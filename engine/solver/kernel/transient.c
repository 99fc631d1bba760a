/* Gear's backward differences of second order (C. W. Gear 1971, IEEE Trans. Circuit Theory
 * CT-18:89) over even steps, of first order after a corner of a source and after trouble. */
#include "transient.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "source.h"

/* Of the longest step: the first one, and the least there may be. Of the algorithm. */
static const double FIRST_SHARE = 1e-3, LEAST_SHARE = 1e-7;
/* How much shorter a step is tried after trouble, how much longer after none. Of the algorithm. */
static const double SHORTER = 0.25, LONGER = 2.0;
/* Steps nearer than this share of each other are one. Of the algorithm. */
static const double SAME_STEP = 1e-9;
/* Steps, tried ones included, that a course may take: sources that turn every picosecond would fill
 * the memory before anybody could stop them. Of the algorithm: shipped circuits take less than a tenth. */
static const long MOST_STEPS = 2000000;
/* Settling: seconds of the first step, growth, and the step at which a circuit is at rest. */
static const double SETTLE_FIRST = 1e-9, SETTLE_GROWTH = 4.0, SETTLE_LAST = 1e9;
/* Steps that settling may take. Of the algorithm. */
static const int SETTLE_MOST = 400;

static int keep(Wave *w, double time, const int *picks, const double *x)
{
    if (w->count == w->room) {
        long room = 2 * w->room + 1024;
        double *more = realloc(w->rows, (size_t)room * (size_t)w->width * sizeof *more);
        if (!more)
            return 0;
        w->rows = more;
        w->room = room;
    }
    double *row = w->rows + w->count++ * w->width;
    row[0] = time;
    for (int k = 1; k < w->width; k++)
        row[k] = x[picks[k - 1]];
    return 1;
}

static double next_corner(const Netlist *n, double time, double end)
{
    for (int k = 0; k < n->count; k++) {
        const Element *e = n->elements + k;
        if (e->kind == KIND_VOLTS || e->kind == KIND_AMPERES)
            end = fmin(end, source_corner(n->figures + e->place, time));
    }
    return end;
}

static Rate first_order(double step)
{
    Rate r = {1 / step, -1 / step, 0};
    return r;
}

static Rate second_order_rate(double step, double last)
{
    double ratio = step / last;
    Rate r = {(1 + 2 * ratio) / (step * (1 + ratio)), -(1 + ratio) / step,
              ratio * ratio / (step * (1 + ratio))};
    return r;
}

static void set_rate(Equations *q, Rate rate)
{
    if (fabs(rate.now - q->rate.now) > SAME_STEP * rate.now
        || fabs(rate.earlier - q->rate.earlier) > SAME_STEP * rate.now)
        equations_set_rate(q, rate);
}

typedef struct {
    double *x, *past; /* one and two steps ago */
    Diode *diodes;
} Saved;

static int saved_make(Saved *s, const Equations *q)
{
    s->x = calloc(2 * (size_t)q->circuit->netlist->variables, sizeof *s->x);
    s->past = s->x + q->circuit->netlist->variables;
    s->diodes = malloc(((size_t)q->circuit->diode_count + 1) * sizeof *s->diodes);
    return s->x && s->diodes;
}

static void saved_free(Saved *s)
{
    free(s->x < s->past ? s->x : s->past);
    free(s->diodes);
}

static void save(Saved *s, const Equations *q)
{
    double *oldest = s->past;
    s->past = s->x;
    s->x = oldest;
    memcpy(s->x, q->x, (size_t)q->circuit->netlist->variables * sizeof *s->x);
    memcpy(s->diodes, q->circuit->diodes, (size_t)q->circuit->diode_count * sizeof *s->diodes);
}

static void restore(const Saved *s, Equations *q)
{
    memcpy(q->x, s->x, (size_t)q->circuit->netlist->variables * sizeof *s->x);
    memcpy(q->circuit->diodes, s->diodes, (size_t)q->circuit->diode_count * sizeof *s->diodes);
}

/* Goes on from the last two moments in a straight line, for a start. */
static void predict(const Saved *s, Equations *q, double ratio)
{
    const Netlist *n = q->circuit->netlist;
    for (int v = 1; v < n->variables; v++)
        q->x[v] = s->x[v] + ratio * (s->x[v] - s->past[v]);
}

/* Whether `time` came to `seconds`. */
static int march(Equations *q, double seconds, double longest, int second_order, const int *picks,
                 Wave *wave, Saved *saved)
{
    double time = 0, step = longest * FIRST_SHARE, last = 0;
    double corner = next_corner(q->circuit->netlist, 0, seconds);
    int fresh = 1; /* no past to speak of: first order */
    if (!keep(wave, 0, picks, q->x))
        return 0;
    for (long tries = 0; time < seconds * (1 - SAME_STEP); tries++) {
        if (tries == MOST_STEPS)
            return 0;
        double room = corner - time, own = fmin(step, longest);
        if (own > room * (1 - SAME_STEP))
            own = room;
        else if (own > 0.5 * room)
            own = 0.5 * room; /* no sliver before a corner */
        save(saved, q);
        if (!fresh)
            predict(saved, q, own / last);
        set_rate(q, fresh || !second_order ? first_order(own) : second_order_rate(own, last));
        equations_set_time(q, time + own);
        if (!equations_solve(q)) {
            restore(saved, q);
            step = own * SHORTER;
            fresh = 1;
            if (step < longest * LEAST_SHARE)
                return 0;
            continue;
        }
        equations_accept(q);
        time += own;
        last = own;
        fresh = 0;
        step = own * LONGER;
        if (time >= corner * (1 - SAME_STEP)) {
            time = corner;
            corner = next_corner(q->circuit->netlist, time, seconds);
            fresh = 1;
            step = longest;
        }
        if (!keep(wave, time, picks, q->x))
            return 0;
    }
    return 1;
}

int transient_run(Equations *q, double seconds, double step, int second_order, const int *picks,
                  Wave *wave)
{
    Saved saved;
    int done = saved_make(&saved, q) && isfinite(seconds) && step > 0 && isfinite(step)
               && march(q, seconds, step, second_order, picks, wave, &saved);
    saved_free(&saved);
    return done;
}

int transient_settle(Equations *q)
{
    Saved saved;
    double step = SETTLE_FIRST;
    int done = 0, ok = saved_make(&saved, q);
    equations_accept(q);
    for (int k = 0; ok && !done && k < SETTLE_MOST; k++) {
        save(&saved, q);
        equations_set_rate(q, first_order(step));
        equations_set_time(q, 0);
        if (equations_solve(q)) {
            equations_accept(q);
            done = step >= SETTLE_LAST;
            step *= SETTLE_GROWTH;
        } else {
            restore(&saved, q);
            step *= SHORTER * SHORTER;
        }
    }
    saved_free(&saved);
    return done;
}

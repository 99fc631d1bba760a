/* From the root: first plans, then a budget that halves the gap between lower and upper bound, and
 * the group bound where that does not close soon.
 *
 * Each solve under a budget either finds the best plan or proves the budget as a lower bound, so
 * that the bound is worth something whenever time runs out. Bisection of the root's value with a
 * memo: A. Plaat, J. Schaeffer, W. Pijls and A. de Bruin, Artificial Intelligence 87, 1996, for
 * minimax. */
#include <math.h>
#include "search.h"

enum { AT_FIRST = 2, PATIENT_EFFORT = 5000000, PAIRS_BESIDE = 16 };

/* Above nothing, so that the root's bound is reckoned even if time is up at once. */
static const double LEAST_BUDGET = 1e-300;

/* Share of the time at which the climb of the group bound ends. */
static const double GROUPS_UNTIL = 0.9;

/* Part of what the search knows of the root that the group bound must tell to be worth its time at
 * every node: measured, lamps lie under it and random models over. */
static const double WORTH = 0.9;

/* Regrets that greedy plans leave alone, as parts of what stopping at once costs: the first ones,
 * how much finer each pass is, where prices of a bit are no longer tried, and the last but none. */
static const double COARSE = 1e-2, FINER = 10, PRICED = 0.099, FINEST = 1e-5;

/* Greedy plans at several prices of a bit; the best price stays. */
static double try_prices(Search *s, const Node *root)
{
    double best = INFINITY, best_price = s->rates.going_price, last = 4 * s->rates.bit_price;
    for (double price = s->rates.bit_price / 3; price < last; price *= 1.25) {
        if (s->monitor.stop && best < INFINITY)
            break;
        s->rates.going_price = price;
        double cost = search_rollout(s, root, 0, NULL);
        if (cost < best)
            best = cost, best_price = price;
    }
    s->rates.going_price = best_price;
    return best;
}

/* A plan whose steps are tried out, finer than the last one while there is a finer one: then what
 * coarser plans had settled is tried anew. Returns its cost, or `best`. */
static double roll_out_finer(Search *s, const Node *root, double *part, double stop, double best)
{
    if (*part > 0) {
        *part = *part > FINEST ? *part / FINER : 0;
        s->greedy.pass++;
    }
    s->greedy.trifle = *part * stop;
    double cost = search_rollout_twice(s, root);
    return cost < best ? cost : best;
}

/* Greedy plans, for a price of a bit to go by, then plans whose steps are tried out; `part` is
 * where the last one left off. Where outcomes split, a whole plan may be too large to count, so
 * the first ones leave small regrets alone: a coarse plan costs a hundredth of the time and is some
 * hundredths dearer. `stop` is what stopping at once costs. */
static double roll_out(Search *s, const Node *root, double *part, double stop)
{
    double best = stop, coarsest = s->problem->rows.slots ? COARSE : 0;
    for (*part = coarsest; *part >= PRICED * coarsest; *part /= FINER) {
        s->greedy.trifle = *part * stop;
        double cost = try_prices(s, root);
        best = cost < best ? cost : best;
        if (*part <= 0)
            break;
    }
    *part = coarsest * FINER;
    s->greedy.pass++;
    for (int pass = 0; pass < AT_FIRST && !s->monitor.stop; pass++)
        best = roll_out_finer(s, root, part, stop, best);
    return best;
}

uint64_t search_patience(const Problem *p)
{
    return 256 + PATIENT_EFFORT / ((uint64_t)(p->tests.count + 1) * p->classes.count);
}

static Estimate remember_bound(Search *s, const Node *root, Estimate e, double bound)
{
    bound = bound < e.upper ? bound : e.upper;
    e.lower = bound > e.lower ? bound : e.lower;
    const Frame *f = search_enter(s, root, 0);
    Word key[MOST_KEY];
    node_key(s->problem, root, f->tests.id, f->tests.count, key);
    search_remember(s, key, e, 1);
    return e;
}

/* The group bound over the node sets of the best plan known. Where the search knew more of the root
 * already, it is better off without. */
static Estimate add_groups(Search *s, const Node *root, Estimate e)
{
    if (s->monitor.stop)
        return e;
    Groups *g = search_groups(s, root);
    double bound = g ? groups_ascend(g, &s->monitor, GROUPS_UNTIL) : 0;
    if (bound > WORTH * e.lower && groups_fix(g)) {
        s->groups = g;
        s->level++;
        s->most_in_pairs = PAIRS_BESIDE;
        return remember_bound(s, root, e, bound);
    }
    if (!g)
        monitor_fail(&s->monitor);
    groups_free(g);
    return e;
}

Estimate search_prove(Search *s, const Node *root, uint64_t patience)
{
    int by_rollout = s->problem->bounds & BOUND_ROLLOUT;
    int has_groups = !(s->problem->bounds & BOUND_GROUPS);
    double *upper = &s->monitor.upper, part = 0;
    Estimate e = search_solve(s, root, LEAST_BUDGET, 0);
    double stop = *upper = e.upper;
    if (by_rollout) {
        double cost = roll_out(s, root, &part, stop);
        *upper = cost < e.upper ? cost : e.upper;
    }
    while (!is_exact(e) && !s->monitor.stop) {
        if (by_rollout)
            *upper = roll_out_finer(s, root, &part, stop, *upper);
        double gap = *upper - e.lower;
        double budget = e.lower + gap / 2;
        s->monitor.lower = e.lower;
        if (gap < 0.08 * *upper)
            budget = *upper * (1 + 1e-9) + 1e-12;
        s->monitor.patience = has_groups ? 0 : s->monitor.visits + patience;
        e = search_solve(s, root, budget, 0);
        s->monitor.patience = 0;
        if (s->monitor.pause) {
            monitor_resume(&s->monitor);
            e = add_groups(s, root, e);
            has_groups = 1;
        }
    }
    return e;
}

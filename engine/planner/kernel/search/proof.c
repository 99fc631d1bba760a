/* From the root: first plans, bounds raised in steps, and what closes the gap between them. */
#include <math.h>
#include <stdlib.h>
#include "groups.h"

enum { BREADTH = 16, PATIENT_EFFORT = 5000000, PAIRS_BESIDE = 16 };

/* Above nothing, so that the root's bound is reckoned even if time is up at once. */
static const double LEAST_BUDGET = 1e-300;

/* Share of the time at which pricing by groups ends. */
static const double GROUPS_UNTIL = 0.9;

/* Part of what the search knows of the root that prices by groups must tell to be worth their time
 * at every node: measured, lamps lie under it and random models over. */
static const double WORTH = 0.9;

static const double LAST_ROUND = 0.02;

/* Greedy plans at several prices of a bit; the best price is kept. */
static double try_prices(Search *s, Node *root)
{
    double best = INFINITY, kept = s->going_price;
    s->breadth = 1;
    for (double price = s->bit_price / 3; price < 4 * s->bit_price; price *= 1.25) {
        if (s->stopped && best < INFINITY)
            break;
        s->going_price = price;
        double cost = search_rollout(s, root, 0, NULL);
        if (cost < best)
            best = cost, kept = price;
    }
    s->going_price = kept;
    return best;
}

/* Greedy plans, then one that looks ahead. Where outcomes split, a whole plan may be too large to
 * count, so the first ones leave small regrets alone; `stop` is what stopping at once costs. */
static double roll_out(Search *s, Node *root, double stop)
{
    double best = INFINITY;
    double part = s->problem->slots ? 1e-2 : 0;
    for (; !s->stopped; part = part > 1e-5 ? part / 10 : 0) {
        s->trifle = part * stop;
        double cost = try_prices(s, root);
        best = cost < best ? cost : best;
        if (s->trifle <= 0)
            break;
    }
    s->breadth = BREADTH;
    double cost = search_rollout(s, root, 0, NULL);
    if (cost > best)
        s->breadth = 1;
    return cost < best ? cost : best;
}

/* Sub-problems to look at before bits are priced by groups, which is dear. */
uint64_t search_patience(const Problem *p)
{
    return 256 + PATIENT_EFFORT / ((uint64_t)(p->tests + 1) * p->classes);
}

static Known note_bound(Search *s, Node *root, Known known, double bound)
{
    bound = bound < known.upper ? bound : known.upper;
    known.lower = bound > known.lower ? bound : known.lower;
    Frame *f = search_enter(s, root, 0);
    Word key[MOST_KEY];
    search_key(s, root, f->test, f->tests, key);
    search_remember(s, key, known, 1);
    return known;
}

/* Price bits by groups of classes, from the node sets of the best plan known. Where the search knew
 * more of the root already, it is better off without. */
static Known price_groups(Search *s, Node *root, Known known)
{
    if (s->stopped)
        return known;
    Groups *g = calloc(1, sizeof(Groups));
    int room = g && groups_open(g, s, root, 0);
    double bound = room ? groups_climb(g, s, GROUPS_UNTIL) : 0;
    if (bound > WORTH * known.lower && groups_settle(g, LAST_ROUND)) {
        s->groups = g;
        s->level++;
        s->most_in_pairs = PAIRS_BESIDE;
        return note_bound(s, root, known, bound);
    }
    if (g)
        groups_close(g);
    free(g);
    if (!room)
        s->stopped = s->broken = 1;
    return known;
}

/* Raise the lower bound in steps towards the best plan known, so that it is worth something when
 * time runs out; a step that finds a plan under its budget has found the best one. */
Known search_prove(Search *s, Node *root, uint64_t patience)
{
    Known known = search_solve(s, root, LEAST_BUDGET, 0);
    s->root_upper = known.upper;
    if (s->problem->bounds & BOUND_ROLLOUT) {
        double rolled = roll_out(s, root, known.upper);
        s->root_upper = rolled < known.upper ? rolled : known.upper;
    }
    int grouped = !(s->problem->bounds & BOUND_GROUPS);
    while (!proven(known) && !s->stopped) {
        if (s->problem->bounds & BOUND_ROLLOUT) {
            double tried = search_try_out(s, root);
            s->root_upper = tried < s->root_upper ? tried : s->root_upper;
        }
        double gap = s->root_upper - known.lower;
        double budget = known.lower + gap / 2;
        s->root_lower = known.lower;
        if (gap < 0.08 * s->root_upper)
            budget = s->root_upper * (1 + 1e-9) + 1e-12;
        s->patience = grouped ? 0 : s->visits + patience;
        known = search_solve(s, root, budget, 0);
        s->patience = 0;
        if (s->paused) {
            search_resume(s);
            known = price_groups(s, root, known);
            grouped = 1;
        }
    }
    return known;
}

/* Depth-first branch and bound on the AND/OR graph of sub-problems: a node takes its best test
 * (OR), a test pays for all of its answers (AND).
 *
 * Each visit has a budget, what the node may cost to matter; what comes back is exact, or a lower
 * bound that reaches the budget. Lower and upper bounds go to the memo. Time grows with the
 * sub-problems met, exponentially many at worst: optimal decision trees are NP-hard (L. Hyafil and
 * R. L. Rivest, Information Processing Letters 5(1), 1976).
 *
 * R. Marinescu and R. Dechter, Artificial Intelligence 173, 2009: AND/OR branch and bound. */
#include <math.h>
#include "search.h"

enum { MOST_OUTCOMES = 256 };

/* Remember a test whose children are bounded well, to bound those of the tests after it. */
static void add_revelation(Frame *f, int test)
{
    if (f->revelations.count < MOST_REVELATIONS)
        f->revelations.test[f->revelations.count++] = test;
}

/* The heaviest outcome that is not done yet, or -1. */
static int heaviest(const Frame *f, const Problem *p, int t, const char *skip)
{
    int best = -1;
    const double *mass = f->tests.mass + p->outcomes.first[t];
    for (int o = 0; o < outcome_count(p, t); o++)
        if (!skip[o] && mass[o] > 0 && (best < 0 || mass[o] > mass[best]))
            best = o;
    return best;
}

/* Solve the children of an entry until it is exact or can't beat `limit`; sets its new bound.
 * `rest` gets what all answers together still cost, from the place of the test. */
static double solve_entry(Search *s, const Node *node, int i, double limit, int depth, double *rest)
{
    Frame *f = &s->frames[depth];
    const Problem *p = s->problem;
    double *lower = f->ranking.lower + i;
    int t = f->tests.id[i], exact = 1;
    char skip[MOST_OUTCOMES] = {0};
    double own = f->members.mass * f->tests.minutes[i];
    double sum = search_look_ahead(s, node, i, limit, depth);
    *rest = sum - own;
    *lower = sum > *lower ? sum : *lower;
    if (*lower >= limit || s->monitor.stop)
        return INFINITY;
    for (int o; (o = heaviest(f, p, t, skip)) >= 0;) {
        const Node *child = &f->children.node[o];
        skip[o] = 1;
        if (node_is_leaf(p, child))
            continue;
        double spare = (limit - (sum - f->children.value[o])) / child->scale;
        Estimate e = search_solve(s, child, spare, depth + 1);
        exact = exact && is_exact(e);
        sum = raise_child(f, o, child->scale * (is_exact(e) ? e.upper : e.lower), sum);
        *rest = sum - own;
        *lower = sum > *lower ? sum : *lower;
        if (sum >= limit || s->monitor.stop || !exact)
            return INFINITY;
    }
    return sum;
}

static double least_lower(const Frame *f, double most)
{
    for (int i = 0; i < f->tests.entries; i++)
        most = f->ranking.lower[i] < most ? f->ranking.lower[i] : most;
    return most;
}

/* Estimates once floors are set: what the pairs say that each entry costs if done first. */
static void guess_by_pairs(const Search *s, Frame *f)
{
    if (!(search_bounds(s, f) & BOUND_PAIRS)) {
        guess_by_bits(s, f);
        return;
    }
    for (int i = 0; i < f->tests.entries; i++)
        f->ranking.guess[i] = f->pairs.reduced_cost[f->tests.base[i]]
            + f->members.mass * f->tests.lead_minutes[i];
}

static Estimate expand(Search *s, const Node *node, Estimate best, double budget, int depth)
{
    Frame *f = &s->frames[depth];
    double limit = best.upper < budget ? best.upper : budget, rest;
    if (!search_frame(s, depth + 1))
        return best;
    s->monitor.expansions++;
    search_floors(s, f, node);
    double floor = best.lower;
    guess_by_pairs(s, f);
    sort_entries(f);
    for (int at = 0; at < f->tests.entries && floor < limit && !s->monitor.stop; at++) {
        int i = f->ranking.order[at];
        if (f->ranking.lower[i] >= limit)
            continue;
        double cost = solve_entry(s, node, i, limit, depth, &rest);
        if (cost < best.upper) {
            best.upper = cost;
            best.test = frame_pick(s->problem, f, i);
            limit = cost < limit ? cost : limit;
            if (depth == 0)
                s->monitor.upper = cost < s->monitor.upper ? cost : s->monitor.upper;
        }
        if (i < f->tests.count)
            add_revelation(f, f->tests.id[i]);
        rest = revelation_floor(s->problem, f, node, i, rest);
        floor = rest > floor ? rest : floor;
    }
    double lower = least_lower(f, best.upper);
    lower = floor > lower ? floor : lower;
    best.lower = lower < best.upper ? lower : best.upper;
    return best;
}

/* Learn what a bit costs in truth, to order the tests of sub-problems to come. */
static void learn(Search *s, const Frame *f, const Node *node, double cost)
{
    double bits = 0;
    for (int i = 0; i < f->members.count; i++) {
        double weight = node->weight[f->members.id[i]];
        bits += weight * log2(f->members.mass / weight);
    }
    if (bits > 0 && f->members.count > 2)
        s->rates.going_price += (cost / bits - s->rates.going_price) / 64;
}

Estimate search_solve(Search *s, const Node *node, double budget, int depth)
{
    Frame *f = search_enter(s, node, depth);
    if (!f)
        return (Estimate){0, INFINITY, NO_TEST, 0};
    if (!f->tests.count || f->stop.cost <= 0)
        return (Estimate){f->stop.cost, f->stop.cost, NO_TEST, f->stop.remedy};
    monitor_visit(&s->monitor);
    Word key[MOST_KEY];
    node_key(s->problem, node, f->tests.id, f->tests.count, key);
    Estimate e = search_recall(s, key);
    if (f->stop.cost <= e.upper) {
        e.upper = f->stop.cost;
        e.test = NO_TEST;
    }
    e.remedy = f->stop.remedy;
    if (is_exact(e) || e.lower >= budget || s->monitor.stop)
        return e;
    const Entry *entry = memo_find(&s->memo, key);
    if (!entry || entry->level < s->level) {
        double bound = search_bound(s, f, node, key, budget);
        e.lower = bound > e.lower ? bound : e.lower;
        if (is_exact(e) || e.lower >= budget)
            return e;
    }
    uint64_t before = s->monitor.expansions;
    Estimate result = expand(s, node, e, budget, depth);
    if (is_exact(result) && result.test != NO_TEST)
        learn(s, f, node, result.upper);
    search_remember(s, key, result, s->monitor.expansions - before);
    return result;
}

/* ---- ranking the tests of the root ---- */

/* Put a test with its cost among the `count` best; one that is there already moves up only. */
static int insert(int *tests, double *costs, int count, int most, int test, double cost)
{
    int at = 0;
    while (at < count && tests[at] != test)
        at++;
    if (at < count && costs[at] <= cost)
        return count;
    if (at == count)
        at = count < most ? count++ : most - 1;
    for (; at > 0 && costs[at - 1] > cost; at--) {
        costs[at] = costs[at - 1];
        tests[at] = tests[at - 1];
    }
    costs[at] = cost;
    tests[at] = test;
    return count;
}

int search_rank(Search *s, const Node *node, int most, int *tests, double *costs)
{
    Frame *f = search_enter(s, node, 0);
    int count = 0;
    double rest;
    if (!f || !search_frame(s, 1))
        return 0;
    search_floors(s, f, node);
    guess_by_bits(s, f);
    sort_entries(f);
    for (int at = 0; at < f->tests.entries && !s->monitor.stop; at++) {
        int i = f->ranking.order[at];
        double limit = count < most ? INFINITY : costs[most - 1], cost = INFINITY;
        if (f->ranking.lower[i] < limit)
            cost = solve_entry(s, node, i, limit, 0, &rest);
        if (i < f->tests.count)
            add_revelation(f, f->tests.id[i]);
        if (cost < limit)
            count = insert(tests, costs, count, most, f->tests.id[i], cost);
    }
    return count;
}

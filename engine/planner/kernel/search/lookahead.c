/* Bounds of a node and of its children, the cheap ones first, and the order in which tests are
 * tried.
 *
 * A child's bound is the greatest of what the memo holds, of what answers for nothing would leave
 * of it (revelation), and of the lower bounds of `bounds.h`, reckoned only while the others do not
 * reach the limit. */
#include <math.h>
#include "search.h"

/* What looking at a test's children takes, and the bounds of a node, greedy visits being the unit:
 * measured on lamps, halves and doubles of it among them. */
enum { MOST_OUTCOMES = 256, LOOK_WORK = 2, BOUND_WORK = 4 };

unsigned search_bounds(const Search *s, const Frame *f)
{
    /* Pairs of many classes tell little for their time, less still beside the group bound. */
    unsigned bounds = s->problem->bounds;
    return f->members.count > s->most_in_pairs ? bounds & ~(unsigned)BOUND_PAIRS : bounds;
}

double search_bound(Search *s, Frame *f, const Node *node, const Word *key, double limit)
{
    double by_groups = s->groups ? groups_bound(s->groups, f, node) : 0;
    by_groups = by_groups < f->stop.cost ? by_groups : f->stop.cost;
    if (s->groups && by_groups >= limit) {
        s->cutoffs[CUTOFF_GROUPS]++;
        Entry *entry = memo_claim(&s->memo, key);
        if (by_groups > entry->lower)
            entry->lower = by_groups;
        return entry->lower;
    }
    double bound = lower_bound(s->problem, &s->pairs, search_bounds(s, f), f, node,
                               s->rates.bit_price);
    monitor_work(&s->monitor, BOUND_WORK);
    s->rates.bit_price += (f->information.bit_price - s->rates.bit_price) / 16;
    if (by_groups > bound) {
        bound = by_groups;
        f->sharpest = CUTOFF_GROUPS;
    }
    s->cutoffs[f->sharpest]++;
    Entry *entry = memo_claim(&s->memo, key);
    entry->level = (uint8_t)s->level;
    if (bound > entry->lower)
        entry->lower = bound;
    return entry->lower;
}

/* ---- revelation ---- */

/* Whether opening for `test` now would take a closed-only test away. */
static int spoils(const Problem *p, const Frame *f, const Node *node, int test)
{
    Word openings = p->tests.need[test] & ~node->openings;
    for (int i = 0; openings && i < f->tests.count; i++) {
        Word bars = p->tests.bars[f->tests.id[i]];
        if (bars & openings && !(bars & node->openings))
            return 1;
    }
    return 0;
}

/* Whether leads can be brought out with the test that others here are read over: doing it first is
 * then worth more than its answer. */
static int carries(const Problem *p, const Frame *f, const Node *node, int test)
{
    Word leads = *p->openings.leads, out = node->openings | p->tests.need[test];
    for (int i = 0; p->tests.need[test] & leads && i < f->tests.count; i++)
        if (p->tests.need[f->tests.id[i]] & leads & ~out)
            return 1;
    return 0;
}

/* Sum of what the memo knows of the parts that the answer of `test`, for nothing, would leave. A
 * short that it shows takes tests away and may so raise the cost: the parts are looked up as if it
 * had not. */
static double revelation(Search *s, Frame *f, const Node *child, int test)
{
    const Problem *p = s->problem;
    Node *part = &f->children.part;
    double sum = 0;
    Word key[MOST_KEY];
    for (int o = 0; o < outcome_count(p, test); o++) {
        node_branch(p, child, test, 0, o, part);
        part->place = child->place;
        part->openings &= ~(SHORT_FOUND & ~child->openings);
        if (node_size(p, part) < 2)
            continue;
        node_key(p, part, f->tests.id, f->tests.count, key);
        sum += part->scale * search_recall(s, key).lower;
    }
    return sum;
}

double revelation_floor(const Problem *p, const Frame *f, const Node *node, int entry, double sum)
{
    int t = f->tests.id[entry];
    if (!(p->bounds & BOUND_REVELATION) || spoils(p, f, node, t) || carries(p, f, node, t))
        return 0;
    /* What is left where a short that it showed took tests away does not count. */
    for (int o = 0; o < outcome_count(p, t); o++)
        if (f->children.value[o] > 0 && frame_loses_test(p, f, node, &f->children.node[o]))
            sum -= f->children.value[o];
    size_t back = (size_t)p->tests.place[t] * p->places.count + node->place;
    return sum - f->members.mass * p->places.direct[back];
}

/* ---- children ---- */

double raise_child(Frame *f, int outcome, double value, double sum)
{
    if (value <= f->children.value[outcome])
        return sum;
    sum += value - f->children.value[outcome];
    f->children.value[outcome] = value;
    return sum;
}

/* Sets `done` for the children that need no further bound. */
static double bound_by_memo(Search *s, Frame *f, int t, double sum, char *skip)
{
    const Problem *p = s->problem;
    Word key[MOST_KEY];
    for (int o = 0; o < outcome_count(p, t); o++) {
        const Node *child = &f->children.node[o];
        f->children.value[o] = 0;
        skip[o] = !node_size(p, child) || node_is_leaf(p, child);
        if (skip[o])
            continue;
        node_key(p, child, f->tests.id, f->tests.count, key);
        const Entry *entry = memo_find(&s->memo, key);
        if (entry) {
            skip[o] = entry->level >= s->level;
            sum = raise_child(f, o, child->scale * entry->lower, sum);
        }
    }
    return sum;
}

static double bound_by_revelation(Search *s, Frame *f, int t, double sum, double limit)
{
    const Problem *p = s->problem;
    if (!(p->bounds & BOUND_REVELATION))
        return sum;
    for (int o = 0; o < outcome_count(p, t); o++) {
        const Node *child = &f->children.node[o];
        if (node_size(p, child) < 3)
            continue;
        for (int r = 0; r < f->revelations.count && sum < limit; r++) {
            int test = f->revelations.test[r];
            if (!spoils(p, f, child, test) && !carries(p, f, child, test))
                sum = raise_child(f, o, child->scale * revelation(s, f, child, test), sum);
        }
    }
    return sum;
}

static double bound_by_relaxation(Search *s, Frame *f, int t, double sum, double limit,
                                  const char *skip, int depth)
{
    const Problem *p = s->problem;
    Word key[MOST_KEY];
    for (int o = 0; o < outcome_count(p, t) && sum < limit; o++) {
        const Node *child = &f->children.node[o];
        if (skip[o])
            continue;
        Frame *below = search_enter(s, child, depth + 1);
        if (!below)
            return sum;
        node_key(p, child, below->tests.id, below->tests.count, key);
        double most = (limit - (sum - f->children.value[o])) / child->scale;
        sum = raise_child(f, o, child->scale * search_bound(s, below, child, key, most), sum);
    }
    return sum;
}

double search_look_ahead(Search *s, const Node *node, int entry, double limit, int depth)
{
    Frame *f = &s->frames[depth];
    int t = f->tests.id[entry];
    char skip[MOST_OUTCOMES];
    monitor_work(&s->monitor, LOOK_WORK);
    frame_branch(s->problem, f, node, entry);
    double sum = bound_by_memo(s, f, t, f->members.mass * f->tests.minutes[entry], skip);
    if (sum >= limit) {
        s->cutoffs[CUTOFF_LOOK_AHEAD]++;
        return sum;
    }
    sum = bound_by_revelation(s, f, t, sum, limit);
    if (sum >= limit) {
        s->cutoffs[CUTOFF_REVELATION]++;
        return sum;
    }
    sum = bound_by_relaxation(s, f, t, sum, limit, skip, depth);
    if (sum >= limit)
        s->cutoffs[CUTOFF_LOOK_AHEAD]++;
    return sum;
}

/* ---- doing each test first ---- */

void search_floors(Search *s, Frame *f, const Node *node)
{
    unsigned bounds = search_bounds(s, f);
    int by_bits = bounds & BOUND_INFORMATION, by_pairs = bounds & BOUND_PAIRS;
    const InformationDual *bits = &f->information;
    double *lower = f->ranking.lower;
    if ((by_bits || by_pairs) && !f->has_bounds)
        lower_bound(s->problem, &s->pairs, bounds, f, node, s->rates.bit_price);
    else if (!f->has_bounds)
        price_tests(s->problem, f, node);
    for (int i = 0; i < f->tests.count; i++) {
        lower[i] = f->members.mass * f->tests.minutes[i];
        double profit = bits->bit_price * bits->gain[i] - f->members.mass * bits->minutes[i];
        double floor = by_bits ? bits->bound + bits->reduced_profit[i] - profit : 0;
        lower[i] = floor > lower[i] ? floor : lower[i];
        floor = by_pairs ? f->pairs.bound + f->pairs.reduced_cost[i] : 0;
        lower[i] = floor > lower[i] ? floor : lower[i];
    }
    if (s->groups)
        groups_floors(s->groups, f, node);
    for (int i = f->tests.count; i < f->tests.entries; i++) {
        double least = lower[f->tests.base[i]], own = f->members.mass * f->tests.minutes[i];
        lower[i] = least > own ? least : own;
    }
}

void guess_by_bits(const Search *s, Frame *f)
{
    for (int i = 0; i < f->tests.entries; i++)
        f->ranking.guess[i] = f->members.mass * f->tests.minutes[i]
            - s->rates.going_price * f->information.gain[f->tests.base[i]];
}

void sort_entries(Frame *f)
{
    const double *guess = f->ranking.guess;
    int *order = f->ranking.order;
    for (int i = 0; i < f->tests.entries; i++) {
        int at = i;
        for (; at > 0 && guess[order[at - 1]] > guess[i]; at--)
            order[at] = order[at - 1];
        order[at] = i;
    }
}

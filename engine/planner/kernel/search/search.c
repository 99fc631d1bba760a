/* Depth-first branch and bound over sub-problems, with a memo of bounds. */
#include <math.h>
#include <string.h>
#include "search.h"

enum { REVEALED = 8 };

/* Two costs closer than this are the same: far under the 1e-9 that plans are compared with. */
static const double CLOSE = 1e-12;

int proven(Known known)
{
    return known.upper < INFINITY && known.upper <= known.lower + CLOSE * known.upper;
}

int outcomes_of(const Problem *p, int test)
{
    return p->first[test + 1] - p->first[test];
}

void search_branch_all(const Problem *p, Frame *f, const Node *node, int i)
{
    Word more = search_leads(p, f, node, f->test[i], f->bundle[i]);
    for (int o = 0; o < outcomes_of(p, f->test[i]); o++)
        search_branch(p, node, f->test[i], more, o, &f->child[o]);
}

/* Remember a test whose children are known well, to bound those of the tests after it. */
static void note_revealing(Frame *f, int test)
{
    if (f->shown < REVEALED)
        f->reveal[f->shown++] = test;
}

/* ---- the memo ---- */

Known search_recall(Search *s, const Word *key)
{
    Known known = {0, INFINITY, NO_TEST, 0};
    Entry *entry = memo_find(&s->memo, key);
    if (entry) {
        known.lower = entry->lower;
        known.upper = entry->upper;
        known.test = entry->test;
    }
    return known;
}

void search_remember(Search *s, const Word *key, Known known, uint64_t effort)
{
    Entry *entry = memo_claim(&s->memo, key);
    if (known.lower > entry->lower)
        entry->lower = known.lower;
    if (known.upper < entry->upper) {
        entry->upper = known.upper;
        entry->test = known.test;
    }
    entry->effort += (uint32_t)(effort < 1000000 ? effort : 1000000);
}

/* ---- bounds of children ---- */

void search_look(Search *s)
{
    if (s->poll && s->poll(s->self, s->root_lower, s->root_upper, s->expanded))
        s->stopped = 1;
}

void search_poll(Search *s)
{
    if (++s->visits % s->poll_every == 0)
        search_look(s);
    if (s->visits == s->patience && !s->stopped)
        s->stopped = s->paused = 1;
}

/* Go on after a pause; a search that was stopped for good stays so. */
void search_resume(Search *s)
{
    if (s->paused)
        s->stopped = s->paused = 0;
    search_look(s);
}

/* Pairs of many classes tell little for their time, less still where prices by groups tell much. */
static const Problem *problem_for(const Search *s, const Frame *f)
{
    return f->members > s->most_in_pairs ? &s->coarse : s->problem;
}

/* The bound by groups first: where it reaches the limit, the others are left for later. */
static double bound_entered(Search *s, Frame *f, Node *node, const Word *key, double limit)
{
    double grouped = s->groups ? groups_bound(s->groups, f, node) : 0;
    grouped = grouped < f->stop ? grouped : f->stop;
    if (s->groups && grouped >= limit) {
        s->cuts[CUT_GROUPS]++;
        Entry *entry = memo_claim(&s->memo, key);
        if (grouped > entry->lower)
            entry->lower = grouped;
        return entry->lower;
    }
    double bound = lower_bound(problem_for(s, f), f, node, s->bit_price);
    s->bit_price += (f->bit_price - s->bit_price) / 16;
    if (grouped > bound) {
        bound = grouped;
        f->sharpest = CUT_GROUPS;
    }
    s->cuts[f->sharpest]++;
    Entry *entry = memo_claim(&s->memo, key);
    entry->bounded = (uint8_t)s->level;
    if (bound > entry->lower)
        entry->lower = bound;
    return entry->lower;
}

/* Whether opening for `test` now would take a closed-only test away. */
static int spoils(const Problem *p, const Frame *f, const Node *node, int test)
{
    Word made = p->need[test] & ~node->opened;
    for (int i = 0; made && i < f->tests; i++)
        if (p->barred[f->test[i]] & made && !(p->barred[f->test[i]] & node->opened))
            return 1;
    return 0;
}

/* Whether leads can be brought out with the test that others here are read over: doing it first is
 * then worth more than its answer. */
static int carries(const Problem *p, const Frame *f, const Node *node, int test)
{
    Word out = node->opened | p->need[test];
    for (int i = 0; p->need[test] & *p->leads && i < f->tests; i++)
        if (p->need[f->test[i]] & *p->leads & ~out)
            return 1;
    return 0;
}

/* Sum of what is known of the parts that the answer of `test`, for nothing, would leave. A short that
 * it shows takes tests away and may so raise the cost: the parts are looked up as if it had not. */
static double revealed(Search *s, Frame *f, const Node *child, int test)
{
    const Problem *p = s->problem;
    double sum = 0;
    Word key[MOST_KEY];
    for (int o = 0; o < outcomes_of(p, test); o++) {
        search_branch(p, child, test, 0, o, &f->part);
        f->part.place = child->place;
        f->part.opened &= ~(SHORT_FOUND & ~child->opened);
        if (node_size(p, &f->part) < 2)
            continue;
        search_key(s, &f->part, f->test, f->tests, key);
        sum += f->part.scale * search_recall(s, key).lower;
    }
    return sum;
}

static double raise(Frame *f, int o, double value, double sum)
{
    if (value <= f->value[o])
        return sum;
    sum += value - f->value[o];
    f->value[o] = value;
    return sum;
}

static double bound_by_memo(Search *s, Frame *f, int t, double sum, char *bounded)
{
    Word key[MOST_KEY];
    for (int o = 0; o < outcomes_of(s->problem, t); o++) {
        Node *child = &f->child[o];
        f->value[o] = 0;
        bounded[o] = !node_size(s->problem, child) || node_settled(s->problem, child);
        if (bounded[o])
            continue;
        search_key(s, child, f->test, f->tests, key);
        Entry *entry = memo_find(&s->memo, key);
        if (entry) {
            bounded[o] = entry->bounded >= s->level;
            sum = raise(f, o, child->scale * entry->lower, sum);
        }
    }
    return sum;
}

static double bound_by_revelation(Search *s, Frame *f, int t, double sum, double limit)
{
    if (!(s->problem->bounds & BOUND_REVELATION))
        return sum;
    for (int o = 0; o < outcomes_of(s->problem, t); o++) {
        Node *child = &f->child[o];
        if (node_size(s->problem, child) < 3)
            continue;
        for (int r = 0; r < f->shown && sum < limit; r++)
            if (!spoils(s->problem, f, child, f->reveal[r])
                && !carries(s->problem, f, child, f->reveal[r]))
                sum = raise(f, o, child->scale * revealed(s, f, child, f->reveal[r]), sum);
    }
    return sum;
}

static double bound_by_information(Search *s, Frame *f, int t, double sum, double limit,
                                   const char *bounded, int depth)
{
    Word key[MOST_KEY];
    for (int o = 0; o < outcomes_of(s->problem, t) && sum < limit; o++) {
        Node *child = &f->child[o];
        if (bounded[o])
            continue;
        Frame *below = search_enter(s, child, depth + 1);
        if (!below)
            return sum;
        search_key(s, child, below->test, below->tests, key);
        double most = (limit - (sum - f->value[o])) / child->scale;
        sum = raise(f, o, child->scale * bound_entered(s, below, child, key, most), sum);
    }
    return sum;
}

/* Bounds of a test's children, the cheap ones first; returns their sum with the test's cost. */
double search_look_ahead(Search *s, Node *node, int i, double limit, int depth)
{
    Frame *f = &s->frames[depth];
    int t = f->test[i];
    char bounded[256];
    search_branch_all(s->problem, f, node, i);
    double sum = bound_by_memo(s, f, t, f->total * f->cost[i], bounded);
    if (sum >= limit) {
        s->cuts[CUT_LOOK_AHEAD]++;
        return sum;
    }
    sum = bound_by_revelation(s, f, t, sum, limit);
    if (sum >= limit) {
        s->cuts[CUT_REVELATION]++;
        return sum;
    }
    sum = bound_by_information(s, f, t, sum, limit, bounded, depth);
    if (sum >= limit)
        s->cuts[CUT_LOOK_AHEAD]++;
    return sum;
}

/* Order of trial: least cost first, by what is known of the children so far. */
void search_order(Frame *f)
{
    for (int i = 0; i < f->entries; i++) {
        int at = i;
        for (; at > 0 && f->guess[f->order[at - 1]] > f->guess[i]; at--)
            f->order[at] = f->order[at - 1];
        f->order[at] = i;
    }
}

/* Order of trial where nothing is known yet: minutes less the worth of the bits told. */
void search_guess(Search *s, Frame *f)
{
    for (int i = 0; i < f->entries; i++)
        f->guess[i] = f->total * f->cost[i] - s->going_price * f->info[f->base[i]];
}

/* ---- branch and bound ---- */

static int heaviest(const Frame *f, const Problem *p, int t, const char *done)
{
    int best = -1;
    const double *mass = f->mass + p->first[t];
    for (int o = 0; o < outcomes_of(p, t); o++)
        if (!done[o] && mass[o] > 0 && (best < 0 || mass[o] > mass[best]))
            best = o;
    return best;
}

/* Solve the children of a test until it is exact or can't beat `limit`; sets its new bound.
 * `saved` gets what all answers together still cost, from the place of the test. */
static double search_test(Search *s, Node *node, int i, double limit, int depth, double *saved)
{
    Frame *f = &s->frames[depth];
    const Problem *p = s->problem;
    int t = f->test[i], exact = 1;
    char done[256] = {0};
    double own = f->total * f->cost[i], sum = search_look_ahead(s, node, i, limit, depth);
    *saved = sum - own;
    f->lower[i] = sum > f->lower[i] ? sum : f->lower[i];
    if (f->lower[i] >= limit || s->stopped)
        return INFINITY;
    for (int o; (o = heaviest(f, p, t, done)) >= 0;) {
        Node *child = &f->child[o];
        done[o] = 1;
        if (node_settled(p, child))
            continue;
        double spare = (limit - (sum - f->value[o])) / child->scale;
        Known known = search_solve(s, child, spare, depth + 1);
        exact = exact && proven(known);
        sum = raise(f, o, child->scale * (proven(known) ? known.upper : known.lower), sum);
        *saved = sum - own;
        f->lower[i] = sum > f->lower[i] ? sum : f->lower[i];
        if (sum >= limit || s->stopped || !exact)
            return INFINITY;
    }
    return sum;
}

/* What the answers of a test, all for nothing, would still leave to pay; what is left where a short
 * that it showed took tests away does not count. */
static double floor_of(const Problem *p, const Frame *f, const Node *node, int i, double saved)
{
    int t = f->test[i];
    if (!(p->bounds & BOUND_REVELATION) || spoils(p, f, node, t) || carries(p, f, node, t))
        return 0;
    for (int o = 0; o < outcomes_of(p, t); o++)
        if (f->value[o] > 0 && search_loses(p, f, node, &f->child[o]))
            saved -= f->value[o];
    return saved - f->total * p->direct[(size_t)p->place[t] * p->places + node->place];
}

/* What each test must cost when it is done first, from its own minutes and the market's books. */
static void set_floors(Search *s, Frame *f, Node *node)
{
    int priced = s->problem->bounds & BOUND_INFORMATION;
    const Problem *p = problem_for(s, f);
    int paired = p->bounds & BOUND_PAIRS;
    if ((priced || paired) && !f->bounded)
        lower_bound(p, f, node, s->bit_price);
    else if (!f->bounded)
        price_tests(p, f, node);
    for (int i = 0; i < f->tests; i++) {
        f->lower[i] = f->total * f->cost[i];
        double earned = f->bit_price * f->info[i] - f->total * f->price[i];
        double booked = priced ? f->bound + f->profit[i] - earned : 0;
        f->lower[i] = booked > f->lower[i] ? booked : f->lower[i];
        booked = paired ? f->pairs + f->kept[i] : 0;
        f->lower[i] = booked > f->lower[i] ? booked : f->lower[i];
    }
    if (s->groups)
        groups_floors(s->groups, f, node);
    for (int i = f->tests; i < f->entries; i++) {
        double least = f->lower[f->base[i]], own = f->total * f->cost[i];
        f->lower[i] = least > own ? least : own;
    }
}

static double least_lower(const Frame *f, double most)
{
    for (int i = 0; i < f->entries; i++)
        most = f->lower[i] < most ? f->lower[i] : most;
    return most;
}

/* Order of trial once floors are set: by what the pairs say that each test costs if done first. */
static void guess_first(Search *s, Frame *f)
{
    if (!(problem_for(s, f)->bounds & BOUND_PAIRS)) {
        search_guess(s, f);
        return;
    }
    for (int i = 0; i < f->entries; i++)
        f->guess[i] = f->kept[f->base[i]] + f->total * f->more[i];
}

static Known expand(Search *s, Node *node, Known best, double budget, int depth)
{
    Frame *f = &s->frames[depth];
    double limit = best.upper < budget ? best.upper : budget, saved;
    if (!frame_ready(s, depth + 1))
        return best;
    s->expanded++;
    set_floors(s, f, node);
    double floor = best.lower;
    guess_first(s, f);
    search_order(f);
    for (int at = 0; at < f->entries && floor < limit && !s->stopped; at++) {
        int i = f->order[at];
        if (f->lower[i] >= limit)
            continue;
        double cost = search_test(s, node, i, limit, depth, &saved);
        if (cost < best.upper) {
            best.upper = cost;
            best.test = pick_of(s->problem, f, i);
            limit = cost < limit ? cost : limit;
            if (depth == 0)
                s->root_upper = cost < s->root_upper ? cost : s->root_upper;
        }
        if (i < f->tests)
            note_revealing(f, f->test[i]);
        saved = floor_of(s->problem, f, node, i, saved);
        floor = saved > floor ? saved : floor;
    }
    double lower = least_lower(f, best.upper);
    lower = floor > lower ? floor : lower;
    best.lower = lower < best.upper ? lower : best.upper;
    return best;
}

/* Learn how near the bounds come to the truth, and what a bit costs in truth, to order the tests of
 * sub-problems to come. */
static void learn(Search *s, const Frame *f, const Node *node, double bound, double cost)
{
    double bits = 0, ratio = cost > 0 ? bound / cost : 1;
    s->tightness += ((ratio > 0.3 ? ratio : 0.3) - s->tightness) / 64;
    for (int i = 0; i < f->members; i++)
        bits += node->weight[f->member[i]] * log2(f->total / node->weight[f->member[i]]);
    if (bits > 0 && f->members > 2)
        s->going_price += (cost / bits - s->going_price) / 64;
}


/* Least cost from here if under `budget`, else a lower bound of it that reaches `budget`. */
Known search_solve(Search *s, Node *node, double budget, int depth)
{
    Frame *f = search_enter(s, node, depth);
    if (!f)
        return (Known){0, INFINITY, NO_TEST, 0};
    if (!f->tests || f->stop <= 0)
        return (Known){f->stop, f->stop, NO_TEST, f->remedy};
    search_poll(s);
    Word key[MOST_KEY];
    search_key(s, node, f->test, f->tests, key);
    Known known = search_recall(s, key);
    if (f->stop <= known.upper) {
        known.upper = f->stop;
        known.test = NO_TEST;
    }
    known.remedy = f->remedy;
    if (proven(known) || known.lower >= budget || s->stopped)
        return known;
    Entry *entry = memo_find(&s->memo, key);
    if (!entry || entry->bounded < s->level) {
        double bound = bound_entered(s, f, node, key, budget);
        known.lower = bound > known.lower ? bound : known.lower;
        if (proven(known) || known.lower >= budget)
            return known;
    }
    uint64_t before = s->expanded;
    Known solved = expand(s, node, known, budget, depth);
    if (proven(solved) && solved.test != NO_TEST)
        learn(s, f, node, known.lower, solved.upper);
    search_remember(s, key, solved, s->expanded - before);
    return solved;
}

/* Put a test with its cost among the `found` best; one that is there already moves up only. */
static int put_in(int *tests, double *costs, int found, int many, int test, double cost)
{
    int at = 0;
    while (at < found && tests[at] != test)
        at++;
    if (at < found && costs[at] <= cost)
        return found;
    if (at == found)
        at = found < many ? found++ : many - 1;
    for (; at > 0 && costs[at - 1] > cost; at--) {
        costs[at] = costs[at - 1];
        tests[at] = tests[at - 1];
    }
    costs[at] = cost;
    tests[at] = test;
    return found;
}

/* The tests of least cost to do first here, best first, and their costs; returns how many. */
int search_rank(Search *s, Node *node, int many, int *tests, double *costs)
{
    Frame *f = search_enter(s, node, 0);
    int found = 0;
    double saved;
    if (!f || !frame_ready(s, 1))
        return 0;
    set_floors(s, f, node);
    search_guess(s, f);
    search_order(f);
    for (int at = 0; at < f->entries && !s->stopped; at++) {
        int i = f->order[at];
        double limit = found < many ? INFINITY : costs[many - 1];
        double cost = f->lower[i] < limit ? search_test(s, node, i, limit, 0, &saved) : INFINITY;
        if (i < f->tests)
            note_revealing(f, f->test[i]);
        if (cost < limit)
            found = put_in(tests, costs, found, many, f->test[i], cost);
    }
    return found;
}

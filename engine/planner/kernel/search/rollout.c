/* Greedy plans: upper bounds for the search, and what is left of it when time runs out.
 *
 * The base policy does the test that looks best by bits and minutes; the rollout tries out the
 * likeliest tests, each followed by the base policy (G. Tesauro and G. R. Galperin, NIPS 9, 1996;
 * from memory). O(nodes of the plan x tests), times the tests tried out at each node. */
#include <math.h>
#include "search.h"

enum { TRIES = 24, LATE_EFFORT = 20000000 };

/* A visit to a small node takes as long as if there were so many tests times classes more. */
static const double LEAST_SIZE = 2000;

/* The test that looks best by its bits and minutes, or -1. */
static int best_by_bits(const Search *s, Frame *f)
{
    int best = -1;
    guess_by_bits(s, f);
    for (int i = 0; i < f->tests.entries; i++)
        if (f->tests.minutes[i] < INFINITY
            && (best < 0 || f->ranking.guess[i] < f->ranking.guess[best]))
            best = i;
    return best;
}

/* Cost of a test followed by greedy plans. */
static double try_entry(Search *s, const Node *node, int i, int depth)
{
    Frame *f = &s->frames[depth];
    const Problem *p = s->problem;
    int t = f->tests.id[i];
    double cost = f->members.mass * f->tests.minutes[i];
    frame_branch(p, f, node, i);
    double share = s->greedy.share;
    for (int o = 0; o < outcome_count(p, t); o++) {
        const Node *child = &f->children.node[o];
        s->greedy.share = share * child->scale;
        if (node_size(p, child))
            cost += child->scale * search_rollout(s, child, depth + 1, NULL);
    }
    s->greedy.share = share;
    return cost;
}

/* The best of the likeliest tests, each followed by the greedy plan that the memo or a rollout
 * gives. */
static int best_by_trial(Search *s, const Node *node, int depth)
{
    Frame *f = &s->frames[depth];
    int best = -1, tries = s->greedy.tries;
    double least = INFINITY;
    s->greedy.tries = s->greedy.memo_only = 1;
    guess_by_bits(s, f);
    sort_entries(f);
    for (int at = 0; at < f->tests.entries && at < tries; at++) {
        int i = f->ranking.order[at];
        if (!(f->tests.minutes[i] < INFINITY))
            break;
        double cost = try_entry(s, node, i, depth);
        if (cost < least)
            best = i, least = cost;
    }
    s->greedy.tries = tries;
    s->greedy.memo_only = 0;
    return best;
}

double search_size(const Problem *p)
{
    return LEAST_SIZE + (double)(p->tests.count + 1) * p->classes.count;
}

/* Fewer nodes where each is dear, yet enough for a leaf for each class. Where outcomes split, a
 * plan could have more than one can count. */
uint64_t search_spare(const Problem *p)
{
    uint64_t size = (uint64_t)(p->tests.count + 1) * p->classes.count;
    return 2 * (uint64_t)p->classes.count + 64 + LATE_EFFORT / size;
}

static int is_too_late(Search *s)
{
    if (!s->monitor.stop || !s->greedy.spare)
        return s->monitor.stop;
    s->greedy.spare--;
    return 0;
}

double search_rollout(Search *s, const Node *node, int depth, Estimate *choice)
{
    Frame *f = search_enter(s, node, depth);
    if (!f)
        return INFINITY;
    monitor_visit(&s->monitor);
    Estimate best = {0, f->stop.cost, NO_TEST, f->stop.remedy};
    int more = f->tests.count && f->stop.cost * s->greedy.share > s->greedy.trifle;
    if (more && search_frame(s, depth + 1) && !is_too_late(s)) {
        Word key[MOST_KEY];
        node_key(s->problem, node, f->tests.id, f->tests.count, key);
        Estimate memo = search_recall(s, key);
        if (memo.upper < best.upper && memo.test != NO_TEST)
            best.upper = memo.upper, best.test = memo.test;
        int is_fresh = s->greedy.memo_only && memo.pass == s->greedy.pass;
        int enough = (s->monitor.stop || is_fresh) && best.test != NO_TEST;
        if (!is_exact(memo) && !enough) {
            price_tests(s->problem, f, node);
            int i = s->greedy.tries > 1 && !s->monitor.stop ? best_by_trial(s, node, depth)
                                                            : best_by_bits(s, f);
            int pick = i < 0 ? NO_TEST : frame_pick(s->problem, f, i);
            double cost = i < 0 ? INFINITY : try_entry(s, node, i, depth);
            if (cost < best.upper)
                best.upper = cost, best.test = pick;
            search_remember(s, key, best, 1);
        }
    }
    if (choice)
        *choice = best;
    return best.upper;
}

Estimate search_follow(Search *s, const Node *node, int depth)
{
    Frame *f = search_enter(s, node, depth);
    Estimate best = {0, INFINITY, NO_TEST, 0};
    if (!f)
        return best;
    Word key[MOST_KEY];
    node_key(s->problem, node, f->tests.id, f->tests.count, key);
    if (!is_too_late(s))
        best = search_recall(s, key);
    if (best.upper >= 1e300 && f->tests.count && f->stop.cost > 0)
        search_rollout(s, node, depth, &best);
    if (!(best.upper < f->stop.cost))
        best.upper = f->stop.cost, best.test = NO_TEST;
    best.remedy = f->stop.remedy;
    return best;
}

double search_rollout_twice(Search *s, const Node *root)
{
    s->greedy.tries = TRIES;
    double cost = search_rollout(s, root, 0, NULL);
    s->greedy.tries = 1;
    return cost;
}

/* Greedy plans: upper bounds for the search, and what is left of it when time runs out. */
#include <math.h>
#include "search.h"

enum { TRIES = 24, LATE_EFFORT = 20000000 };

/* The best of the likeliest tests, judged by the bounds of their children. */
static int best_of_likely(Search *s, Node *node, int depth)
{
    Frame *f = &s->frames[depth];
    int best = -1;
    double least = INFINITY;
    search_guess(s, f);
    search_order(f);
    for (int at = 0; at < f->entries && at < (s->stopped ? 1 : s->breadth); at++) {
        int i = f->order[at];
        double own = f->total * f->cost[i];
        if (own == INFINITY)
            break;
        int looks = s->breadth > 1 && !s->stopped;
        double sum = looks ? search_look_ahead(s, node, i, INFINITY, depth) : own;
        double guess = own + (sum - own) / s->tightness;
        if (best < 0 || guess < least)
            best = i, least = guess;
    }
    return best;
}

static double try_test(Search *s, Node *node, int i, int depth)
{
    Frame *f = &s->frames[depth];
    const Problem *p = s->problem;
    int t = f->test[i];
    double cost = f->total * f->cost[i];
    search_branch_all(p, f, node, i);
    double share = s->share;
    for (int o = 0; o < outcomes_of(p, t); o++) {
        Node *child = &f->child[o];
        s->share = share * child->scale;
        if (node_size(p, child))
            cost += child->scale * search_rollout(s, child, depth + 1, NULL);
    }
    s->share = share;
    return cost;
}

/* The best of the likeliest tests, each followed by the greedy plan known or found from there. */
static int best_of_tried(Search *s, Node *node, int depth)
{
    Frame *f = &s->frames[depth];
    int best = -1, tries = s->tries;
    double least = INFINITY;
    s->tries = s->known_only = 1;
    search_guess(s, f);
    search_order(f);
    for (int at = 0; at < f->entries && at < tries && f->cost[f->order[at]] < INFINITY; at++) {
        double cost = try_test(s, node, f->order[at], depth);
        if (cost < least)
            best = f->order[at], least = cost;
    }
    s->tries = tries;
    s->known_only = 0;
    return best;
}

/* Nodes that a stopped search may look at to finish a plan: fewer where each is dear, yet enough
 * for a leaf for each class. Where outcomes split, a plan could have more than one can count. */
uint64_t search_spare(const Problem *p)
{
    uint64_t size = (uint64_t)(p->tests + 1) * p->classes;
    return 2 * (uint64_t)p->classes + 64 + LATE_EFFORT / size;
}

static int too_late(Search *s)
{
    if (!s->stopped || !s->spare)
        return s->stopped;
    s->spare--;
    return 0;
}

/* Cost of the greedy plan from here: what the memo knows, else the test that looks best. */
double search_rollout(Search *s, Node *node, int depth, Known *choice)
{
    Frame *f = search_enter(s, node, depth);
    if (!f)
        return INFINITY;
    search_poll(s);
    Known best = {0, f->stop, NO_TEST, f->remedy};
    int more = f->tests && f->stop * s->share > s->trifle;
    if (more && frame_ready(s, depth + 1) && !too_late(s)) {
        Word key[MOST_KEY];
        search_key(s, node, f->test, f->tests, key);
        Known known = search_recall(s, key);
        if (known.upper < best.upper && known.test != NO_TEST)
            best.upper = known.upper, best.test = known.test;
        if (!proven(known) && !((s->stopped || s->known_only) && best.test != NO_TEST)) {
            price_tests(s->problem, f, node);
            int i = s->tries > 1 && !s->stopped ? best_of_tried(s, node, depth)
                                                : best_of_likely(s, node, depth);
            int pick = i < 0 ? NO_TEST : pick_of(s->problem, f, i);
            double cost = i < 0 ? INFINITY : try_test(s, node, i, depth);
            if (cost < best.upper)
                best.upper = cost, best.test = pick;
            search_remember(s, key, best, 1);
        }
    }
    if (choice)
        *choice = best;
    return best.upper;
}

/* What to do here by the best plan known, for writing it out when time ran out. */
Known search_follow(Search *s, Node *node, int depth)
{
    Frame *f = search_enter(s, node, depth);
    Known best = {0, INFINITY, NO_TEST, 0};
    if (!f)
        return best;
    Word key[MOST_KEY];
    search_key(s, node, f->test, f->tests, key);
    if (!too_late(s))
        best = search_recall(s, key);
    if (best.upper >= 1e300 && f->tests && f->stop > 0)
        search_rollout(s, node, depth, &best);
    if (!(best.upper < f->stop))
        best.upper = f->stop, best.test = NO_TEST;
    best.remedy = f->remedy;
    return best;
}

/* The greedy plan whose steps are tried out before they are taken: dearer, and often the best. */
double search_try_out(Search *s, Node *root)
{
    int breadth = s->breadth;
    s->breadth = 1;
    s->tries = TRIES;
    double cost = search_rollout(s, root, 0, NULL);
    s->tries = 1;
    s->breadth = breadth;
    return cost;
}

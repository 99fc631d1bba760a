/* Depth-first branch and bound over sub-problems, with a memo of bounds. */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "search.h"

enum { MOST_KEY = 64, POLL_EVERY = 512 };

/* Two costs closer than this are the same: far under the 1e-9 that plans are compared with. */
static const double CLOSE = 1e-12;

int proven(Known known)
{
    return known.upper <= known.lower + CLOSE * fabs(known.upper);
}

/* ---- room ---- */

int node_make(const Problem *p, Node *node)
{
    memset(node, 0, sizeof *node);
    node->set = calloc(p->words, sizeof(Word));
    node->code = calloc(p->slots + 1, 1);
    node->weight = calloc(p->classes, sizeof(double));
    node->scale = 1;
    return node->set && node->code && node->weight;
}

void node_free(Node *node)
{
    free(node->set);
    free(node->code);
    free(node->weight);
}

static int frame_make(const Problem *p, Frame *f)
{
    int tests = p->tests + 1;
    f->member = calloc(p->classes, sizeof(int));
    f->mass = calloc(p->columns + 1, sizeof(double));
    f->test = calloc(tests, sizeof(int));
    f->order = calloc(tests, sizeof(int));
    f->price = calloc(tests, sizeof(double));
    f->cost = calloc(tests, sizeof(double));
    f->lower = calloc(tests, sizeof(double));
    f->guess = calloc(tests, sizeof(double));
    f->value = calloc(p->most_outcomes + 1, sizeof(double));
    f->room = calloc(p->classes + p->remedies + 1, sizeof(double));
    f->tally = calloc(p->places + 64, sizeof(int));
    f->child = calloc(p->most_outcomes + 1, sizeof(Node));
    if (!f->member || !f->mass || !f->test || !f->order || !f->price || !f->cost || !f->lower
        || !f->guess || !f->value || !f->room || !f->tally || !f->child)
        return 0;
    for (int o = 0; o < p->most_outcomes; o++)
        if (!node_make(p, &f->child[o]))
            return 0;
    return 1;
}

static void frame_free(const Problem *p, Frame *f)
{
    for (int o = 0; f->child && o < p->most_outcomes; o++)
        node_free(&f->child[o]);
    free(f->member);
    free(f->mass);
    free(f->test);
    free(f->order);
    free(f->price);
    free(f->cost);
    free(f->lower);
    free(f->guess);
    free(f->value);
    free(f->room);
    free(f->tally);
    free(f->child);
}

static size_t key_words(const Problem *p)
{
    return p->words + 2 + (p->slots + 7) / 8;
}

int search_open(Search *s, const Problem *p, size_t most_bytes)
{
    memset(s, 0, sizeof *s);
    s->problem = p;
    s->frames = calloc(p->tests + 2, sizeof(Frame));
    if (!s->frames || key_words(p) > MOST_KEY || !memo_open(&s->memo, key_words(p), most_bytes))
        return 0;
    double sum = 0;
    for (int t = 0; t < p->tests; t++)
        sum += p->minutes[t];
    s->price = p->tests && sum > 0 ? sum / p->tests : 1;
    return 1;
}

void search_close(Search *s)
{
    for (int d = 0; s->frames && d < s->problem->tests + 2; d++)
        if (s->frames[d].member)
            frame_free(s->problem, &s->frames[d]);
    free(s->frames);
    memo_close(&s->memo);
}

int search_root(const Problem *p, Node *node, Word opened, int place)
{
    if (!node_make(p, node))
        return 0;
    for (int k = 0; k < p->classes; k++)
        node->set[k / 64] |= (Word)1 << (k % 64);
    memcpy(node->weight, p->weight, p->classes * sizeof(double));
    node->opened = opened;
    node->place = place;
    return 1;
}

/* ---- what can be done at a node ---- */

static void list_members(const Problem *p, Frame *f, const Node *node)
{
    f->members = 0;
    f->total = 0;
    for (int w = 0; w < p->words; w++)
        for (Word bits = node->set[w]; bits; bits &= bits - 1) {
            int k = w * 64 + __builtin_ctzll(bits);
            f->member[f->members++] = k;
            f->total += node->weight[k];
        }
}

static int meets(const Word *a, const Word *b, int words)
{
    for (int w = 0; w < words; w++)
        if (a[w] & b[w])
            return 1;
    return 0;
}

static int same_rows(const Problem *p, const Frame *f, int test)
{
    for (int c = p->first[test]; c < p->first[test + 1]; c++) {
        const double *column = p->column + (size_t)c * p->classes;
        for (int i = 1; i < f->members; i++)
            if (column[f->member[i]] != column[f->member[0]])
                return 0;
    }
    return 1;
}

static int tells(const Problem *p, const Frame *f, const Node *node, int test)
{
    if (p->slot[test] >= 0 && meets(p->mixed + (size_t)test * p->words, node->set, p->words))
        return !same_rows(p, f, test);
    const uint8_t *shown = p->shown + (size_t)test * p->classes;
    for (int i = 1; i < f->members; i++)
        if (shown[f->member[i]] != shown[f->member[0]])
            return 1;
    return 0;
}

static int open_to(const Problem *p, const Node *node, int test)
{
    if (p->closed[test] && node->opened)
        return 0;
    return p->slot[test] < 0 || !node->code[p->slot[test]];
}

static void weigh(const Problem *p, Frame *f, const Node *node, int test)
{
    double *mass = f->mass + p->first[test];
    int outcomes = p->first[test + 1] - p->first[test];
    const uint8_t *shown = p->shown + (size_t)test * p->classes;
    memset(mass, 0, outcomes * sizeof(double));
    for (int i = 0; i < f->members; i++) {
        int k = f->member[i];
        if (shown[k] != MIXED) {
            mass[shown[k]] += node->weight[k];
            continue;
        }
        for (int o = 0; o < outcomes; o++)
            mass[o] += node->weight[k] * p->column[(size_t)(p->first[test] + o) * p->classes + k];
    }
}

static void list_tests(const Problem *p, Frame *f, const Node *node, const Frame *above)
{
    int many = above ? above->tests : p->tests;
    f->tests = 0;
    for (int i = 0; i < many; i++) {
        int t = above ? above->test[i] : i;
        if (!open_to(p, node, t) || !tells(p, f, node, t))
            continue;
        f->cost[f->tests] = p->minutes[t] + setup_minutes(p, node, t);
        f->test[f->tests++] = t;
        weigh(p, f, node, t);
    }
}

static int frame_ready(Search *s, int depth)
{
    if (s->frames[depth].member)
        return 1;
    if (frame_make(s->problem, &s->frames[depth]))
        return 1;
    s->stopped = s->broken = 1;
    return 0;
}

/* Take stock of a node in the frame of its depth. NULL when memory is short. */
Frame *search_enter(Search *s, Node *node, int depth)
{
    Frame *f = &s->frames[depth];
    if (!frame_ready(s, depth))
        return NULL;
    list_members(s->problem, f, node);
    list_tests(s->problem, f, node, depth ? &s->frames[depth - 1] : NULL);
    return f;
}

/* ---- the memo key ---- */

/* Openings that no test here asks for are left out, so that more sub-problems agree. */
void search_key(const Search *s, const Frame *f, const Node *node, Word *key)
{
    const Problem *p = s->problem;
    Word asked = 0;
    int closed = 0;
    for (int i = 0; i < f->tests; i++) {
        asked |= p->need[f->test[i]];
        closed |= p->closed[f->test[i]];
    }
    memset(key, 0, key_words(p) * sizeof(Word));
    memcpy(key, node->set, p->words * sizeof(Word));
    key[p->words] = node->opened & asked;
    key[p->words + 1] = (Word)node->place | (Word)(closed && node->opened) << 32;
    if (node->coded)
        memcpy(key + p->words + 2, node->code, p->slots);
}

/* ---- branching ---- */

static int constant(const double *column, int members, const int *member)
{
    for (int i = 1; i < members; i++)
        if (column[member[i]] != column[member[0]])
            return 0;
    return 1;
}

/* Evidence equal for all that remain leaves the weights; `scale` keeps what it was worth. */
static void settle(const Problem *p, Frame *f, Node *child)
{
    int members = 0, *member = (int *)f->room;
    for (int w = 0; w < p->words; w++)
        for (Word bits = child->set[w]; bits; bits &= bits - 1)
            member[members++] = w * 64 + __builtin_ctzll(bits);
    child->scale = 1;
    child->coded = 0;
    for (int t = 0; t < p->tests && members; t++) {
        int slot = p->slot[t];
        if (slot < 0 || !child->code[slot])
            continue;
        if (child->code[slot] != SPENT) {
            const double *column =
                p->column + (size_t)(p->first[t] + child->code[slot] - 1) * p->classes;
            if (constant(column, members, member)) {
                double odds = column[member[0]];
                child->scale *= odds;
                for (int i = 0; i < members; i++)
                    child->weight[member[i]] /= odds;
                child->code[slot] = SPENT;
            }
        }
        if (child->code[slot] == SPENT) {
            Frame few = {.members = members, .member = member};
            if (same_rows(p, &few, t))
                child->code[slot] = 0;
        }
        child->coded |= child->code[slot] != 0;
    }
    if (!child->coded)
        for (int i = 0; i < members; i++)
            child->weight[member[i]] = p->weight[member[i]];
}

static void branch(const Problem *p, Frame *f, const Node *node, int test, int outcome)
{
    Node *child = &f->child[outcome];
    size_t column = p->first[test] + outcome;
    const double *odds = p->column + column * p->classes;
    int slot = p->slot[test];
    for (int w = 0; w < p->words; w++)
        child->set[w] = node->set[w] & p->support[column * p->words + w];
    memcpy(child->code, node->code, p->slots);
    if (slot >= 0)
        child->code[slot] = (uint8_t)(1 + outcome);
    child->opened = node->opened | p->need[test];
    child->place = p->place[test];
    child->scale = 1;
    child->coded = 0;
    if (slot < 0 && !node->coded) {
        memcpy(child->weight, p->weight, p->classes * sizeof(double));
        return;
    }
    for (int i = 0; i < f->members; i++)
        child->weight[f->member[i]] = node->weight[f->member[i]] * odds[f->member[i]];
    settle(p, f, child);
}

/* The sub-problems after each outcome of the test, in the frame of this depth. */
Node *search_branch(Search *s, const Node *node, int test, int depth)
{
    Frame *f = &s->frames[depth];
    const Problem *p = s->problem;
    for (int o = 0; o < p->first[test + 1] - p->first[test]; o++)
        branch(p, f, node, test, o);
    return f->child;
}

static int is_empty(const Node *node, int words)
{
    for (int w = 0; w < words; w++)
        if (node->set[w])
            return 0;
    return 1;
}

/* ---- the greedy plan ---- */

/* A guess of each test's worth: what its children would cost at the going price of a bit. */
static void guess_tests(Search *s, const Node *node, int depth)
{
    const Problem *p = s->problem;
    Frame *f = &s->frames[depth], *below = &s->frames[depth + 1];
    for (int i = 0; i < f->tests; i++) {
        int t = f->test[i];
        f->guess[i] = f->total * f->cost[i];
        for (int o = 0; o < p->first[t + 1] - p->first[t]; o++) {
            if (f->mass[p->first[t] + o] <= 0)
                continue;
            Node *child = &f->child[o];
            branch(p, f, node, t, o);
            list_members(p, below, child);
            double stop = stop_cost(p, below, child, NULL);
            double need = demand(p, below, child, s->price);
            f->guess[i] += child->scale * (stop < need ? stop : need);
        }
    }
}

static int least_guess(const Frame *f)
{
    int best = 0;
    for (int i = 1; i < f->tests; i++)
        if (f->guess[i] < f->guess[best])
            best = i;
    return best;
}

static Known recall(Search *s, const Frame *f, const Node *node)
{
    Word key[MOST_KEY];
    Known known = {0, INFINITY, NO_TEST, 0};
    search_key(s, f, node, key);
    Entry *entry = memo_find(&s->memo, key);
    if (entry) {
        known.lower = entry->lower;
        known.upper = entry->upper;
        known.test = entry->test;
    }
    return known;
}

static double try_test(Search *s, Node *node, int i, int depth)
{
    Frame *f = &s->frames[depth];
    const Problem *p = s->problem;
    int t = f->test[i];
    double cost = f->total * f->cost[i];
    search_branch(s, node, t, depth);
    for (int o = 0; o < p->first[t + 1] - p->first[t]; o++) {
        Node *child = &f->child[o];
        if (!is_empty(child, p->words))
            cost += child->scale * search_rollout(s, child, depth + 1, NULL);
    }
    return cost;
}

/* Cost of the greedy plan from here: what the memo knows, else the least guess. */
double search_rollout(Search *s, Node *node, int depth, Known *choice)
{
    Frame *f = search_enter(s, node, depth);
    Known best = {0, INFINITY, NO_TEST, 0};
    if (!f)
        return INFINITY;
    best.upper = stop_cost(s->problem, f, node, &best.remedy);
    if (f->tests && best.upper > 0 && f->members > 1) {
        Known known = recall(s, f, node);
        if (known.upper < best.upper && known.test != NO_TEST)
            best.upper = known.upper, best.test = known.test;
        if (!proven(known) && frame_ready(s, depth + 1)) {
            guess_tests(s, node, depth);
            int i = least_guess(f), test = f->test[i];
            double cost = try_test(s, node, i, depth);
            if (cost < best.upper)
                best.upper = cost, best.test = test;
        }
    }
    if (choice)
        *choice = best;
    return best.upper;
}

/* ---- branch and bound ---- */

static void poll_now(Search *s)
{
    if (++s->visits % POLL_EVERY == 0 && s->poll
        && s->poll(s->self, s->root_lower, s->root_upper, s->expanded))
        s->stopped = 1;
}

static Known bound_node(Search *s, Frame *f, Node *node)
{
    Word key[MOST_KEY];
    search_key(s, f, node, key);
    Entry *entry = memo_claim(&s->memo, key);
    if (!entry->bounded) {
        double price = s->price;
        entry->lower = lower_bound(s->problem, f, node, &price);
        entry->bounded = 1;
        s->price += (price - s->price) / 16;
    }
    return (Known){entry->lower, entry->upper, entry->test, 0};
}

static void remember(Search *s, const Frame *f, const Node *node, Known known, uint64_t effort)
{
    Word key[MOST_KEY];
    search_key(s, f, node, key);
    Entry *entry = memo_claim(&s->memo, key);
    entry->bounded = 1;
    if (known.lower > entry->lower)
        entry->lower = known.lower;
    if (known.upper < entry->upper) {
        entry->upper = known.upper;
        entry->test = known.test;
    }
    entry->effort += (uint32_t)(effort < 1000000 ? effort : 1000000);
}

/* What is known of each child before any search below it; returns their sum with the test. */
static double look_ahead(Search *s, Node *node, int i, int depth)
{
    Frame *f = &s->frames[depth];
    const Problem *p = s->problem;
    int t = f->test[i];
    double sum = f->total * f->cost[i];
    search_branch(s, node, t, depth);
    for (int o = 0; o < p->first[t + 1] - p->first[t]; o++) {
        Node *child = &f->child[o];
        f->value[o] = 0;
        if (is_empty(child, p->words))
            continue;
        Frame *below = search_enter(s, child, depth + 1);
        if (!below)
            return sum;
        f->value[o] = child->scale * bound_node(s, below, child).lower;
        sum += f->value[o];
    }
    return sum;
}

static int heaviest(const Frame *f, const Problem *p, int t, const char *done)
{
    int best = -1;
    for (int o = 0; o < p->first[t + 1] - p->first[t]; o++)
        if (!done[o] && f->mass[p->first[t] + o] > 0
            && (best < 0 || f->mass[p->first[t] + o] > f->mass[p->first[t] + best]))
            best = o;
    return best;
}

/* Solve the children of a test until it is exact or cannot beat `limit`; sets its new bound. */
static double search_test(Search *s, Node *node, int i, double limit, int depth)
{
    Frame *f = &s->frames[depth];
    const Problem *p = s->problem;
    int t = f->test[i], exact = 1;
    char done[256] = {0};
    double sum = look_ahead(s, node, i, depth);
    f->lower[i] = sum > f->lower[i] ? sum : f->lower[i];
    if (f->lower[i] >= limit || s->stopped)
        return INFINITY;
    for (int o; (o = heaviest(f, p, t, done)) >= 0;) {
        Node *child = &f->child[o];
        done[o] = 1;
        double room = (limit - (sum - f->value[o])) / child->scale;
        Known known = search_solve(s, child, room, depth + 1);
        double value = child->scale * (proven(known) ? known.upper : known.lower);
        if (value > f->value[o]) {
            sum += value - f->value[o];
            f->value[o] = value;
        }
        exact = exact && proven(known);
        f->lower[i] = sum > f->lower[i] ? sum : f->lower[i];
        if (sum >= limit || s->stopped || !exact)
            return INFINITY;
    }
    return sum;
}

static void guess_order(Search *s, const Node *node, int depth)
{
    Frame *f = &s->frames[depth];
    guess_tests(s, node, depth);
    for (int i = 0; i < f->tests; i++) {
        int at = i;
        for (; at > 0 && f->guess[f->order[at - 1]] > f->guess[i]; at--)
            f->order[at] = f->order[at - 1];
        f->order[at] = i;
    }
}

static Known expand(Search *s, Node *node, Known best, double budget, int depth)
{
    Frame *f = &s->frames[depth];
    double lower = best.upper;
    for (int i = 0; i < f->tests; i++)
        f->lower[i] = f->total * f->cost[i];
    if (!frame_ready(s, depth + 1))
        return best;
    s->expanded++;
    guess_order(s, node, depth);
    for (int at = 0; at < f->tests && !s->stopped; at++) {
        int i = f->order[at];
        double limit = best.upper < budget ? best.upper : budget;
        if (f->lower[i] >= limit)
            continue;
        double cost = search_test(s, node, i, limit, depth);
        if (cost < best.upper) {
            best.upper = cost;
            best.test = f->test[i];
            if (depth == 0)
                s->root_upper = cost < s->root_upper ? cost : s->root_upper;
        }
    }
    for (int i = 0; i < f->tests; i++)
        if (f->lower[i] < lower)
            lower = f->lower[i];
    best.lower = lower < best.upper ? lower : best.upper;
    return best;
}

/* Least cost from here if under `budget`, else a lower bound of it that reaches `budget`. */
Known search_solve(Search *s, Node *node, double budget, int depth)
{
    Frame *f = search_enter(s, node, depth);
    Known known = {0, INFINITY, NO_TEST, 0};
    if (!f)
        return known;
    double stop = stop_cost(s->problem, f, node, &known.remedy);
    if (!f->tests || f->members < 2 || stop <= 0)
        return (Known){stop, stop, NO_TEST, known.remedy};
    poll_now(s);
    Known found = bound_node(s, f, node);
    found.remedy = known.remedy;
    if (stop < found.upper) {
        found.upper = stop;
        found.test = NO_TEST;
    }
    if (proven(found) || found.lower >= budget || s->stopped)
        return found;
    uint64_t before = s->expanded;
    double floor = found.lower;
    Known solved = expand(s, node, found, budget, depth);
    if (solved.lower < floor)
        solved.lower = floor;
    remember(s, f, node, solved, s->expanded - before);
    return solved;
}

/* Sub-problems: their room, their members and tests, their memo key, and branching. */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "groups.h"

enum { POLL_MOST = 256, POLL_EFFORT = 1 << 20, MOST_IN_PAIRS = 96 };

/* ---- room ---- */

int node_make(const Problem *p, Node *node)
{
    memset(node, 0, sizeof *node);
    node->set = calloc(p->words, sizeof(Word));
    node->code = calloc(p->slots + 1, 1);
    node->own = calloc(p->classes, sizeof(double));
    node->weight = p->weight;
    node->scale = 1;
    return node->set && node->code && node->own;
}

void node_free(Node *node)
{
    free(node->set);
    free(node->code);
    free(node->own);
}

static void *room(size_t many, size_t size, int *short_of)
{
    void *made = calloc(many + 1, size);
    *short_of |= !made;
    return made;
}

static int frame_make(const Problem *p, Frame *f)
{
    int bad = 0, tests = p->tests, entries = tests * p->bundles;
    f->member = room(p->classes, sizeof(int), &bad);
    f->test = room(entries, sizeof(int), &bad);
    f->base = room(entries, sizeof(int), &bad);
    f->bundle = room(entries, sizeof(int), &bad);
    f->more = room(entries, sizeof(double), &bad);
    f->order = room(entries, sizeof(int), &bad);
    f->tally = room(p->places + 64, sizeof(int), &bad);
    f->mass = room(p->columns, sizeof(double), &bad);
    f->cost = room(entries, sizeof(double), &bad);
    f->price = room(tests, sizeof(double), &bad);
    f->info = room(entries, sizeof(double), &bad);
    f->full = room(tests, sizeof(double), &bad);
    f->none = room(tests, sizeof(double), &bad);
    f->profit = room(tests, sizeof(double), &bad);
    f->kept = room(entries, sizeof(double), &bad);
    f->useful = room(p->test_words, sizeof(Word), &bad);
    f->lower = room(entries, sizeof(double), &bad);
    f->guess = room(entries, sizeof(double), &bad);
    f->bits = room((size_t)p->levels * p->classes, sizeof(double), &bad);
    f->value = room(p->most_outcomes, sizeof(double), &bad);
    f->room = room(p->classes + p->remedies, sizeof(double), &bad);
    f->child = room(p->most_outcomes, sizeof(Node), &bad);
    for (int o = 0; !bad && o < p->most_outcomes; o++)
        bad = !node_make(p, &f->child[o]);
    return !bad && node_make(p, &f->part);
}

static void frame_free(const Problem *p, Frame *f)
{
    for (int o = 0; f->child && o < p->most_outcomes; o++)
        node_free(&f->child[o]);
    node_free(&f->part);
    void *held[] = {f->member, f->test, f->order, f->tally, f->mass, f->cost, f->price, f->info,
                    f->full, f->none, f->profit, f->kept, f->useful, f->lower, f->guess, f->bits,
                    f->value, f->room, f->child, f->base, f->bundle, f->more};
    for (size_t i = 0; i < sizeof held / sizeof *held; i++)
        free(held[i]);
}

int frame_ready(Search *s, int depth)
{
    if (s->frames[depth].child || frame_make(s->problem, &s->frames[depth]))
        return 1;
    s->stopped = s->broken = 1;
    return 0;
}

static size_t key_words(const Problem *p)
{
    return p->words + 3 + (p->slots + 7) / 8;
}

/* Mass of every byte of a set, so that a set weighs in a few look-ups. */
static int make_chunks(Problem *p)
{
    int bytes = p->words * 8;
    p->chunk = calloc((size_t)bytes * 256, sizeof(double));
    for (int b = 0; p->chunk && b < bytes; b++)
        for (int value = 1; value < 256; value++) {
            int low = __builtin_ctz(value), k = b * 8 + low;
            double *row = p->chunk + (size_t)b * 256;
            row[value] = row[value & (value - 1)] + (k < p->classes ? p->weight[k] : 0);
        }
    return p->chunk != NULL;
}

int search_open(Search *s, Problem *p, size_t most_bytes)
{
    memset(s, 0, sizeof *s);
    s->problem = p;
    s->frames = calloc(p->tests + 2, sizeof(Frame));
    if (!s->frames || key_words(p) > MOST_KEY || !make_chunks(p) || !ways_make(p)
        || !memo_open(&s->memo, key_words(p), most_bytes))
        return 0;
    s->coarse = *p;
    s->coarse.bounds &= ~(unsigned)BOUND_PAIRS;
    double sum = 0;
    for (int t = 0; t < p->tests; t++)
        sum += p->minutes[t];
    s->bit_price = p->tests && sum > 0 ? sum / p->tests : 1;
    s->going_price = 2 * s->bit_price;
    s->tightness = 0.7;
    uint64_t often = POLL_EFFORT / ((uint64_t)(p->tests + 1) * (p->classes + 1));
    s->poll_every = often < 1 ? 1 : often > POLL_MOST ? POLL_MOST : often;
    s->most_in_pairs = MOST_IN_PAIRS;
    s->breadth = 1;
    s->share = s->tries = s->level = 1;
    return 1;
}

void search_close(Search *s)
{
    if (s->groups)
        groups_close(s->groups);
    free(s->groups);
    for (int d = 0; s->frames && d < s->problem->tests + 2; d++)
        if (s->frames[d].member)
            frame_free(s->problem, &s->frames[d]);
    free(s->frames);
    free(s->problem->chunk);
    ways_free((Problem *)s->problem);
    memo_close(&s->memo);
}

int search_root(const Problem *p, Node *node, Word opened, Word noted, int place)
{
    if (!node_make(p, node))
        return 0;
    for (int k = 0; k < p->classes; k++)
        node->set[k / 64] |= (Word)1 << (k % 64);
    node->opened = opened;
    node->noted = noted;
    node->place = place;
    return 1;
}

/* ---- members and tests ---- */

int node_size(const Problem *p, const Node *node)
{
    int size = 0;
    for (int w = 0; w < p->words; w++)
        size += __builtin_popcountll(node->set[w]);
    return size;
}

static int first_member(const Problem *p, const Node *node)
{
    int w = 0;
    while (w < p->words - 1 && !node->set[w])
        w++;
    return w * 64 + __builtin_ctzll(node->set[w]);
}

/* Whether some member's odds in the test differ from the first one's. */
static int tells(const Problem *p, const Node *node, int test, int member)
{
    const Word *like = p->rows
        + (size_t)p->alike[(size_t)test * p->classes + member] * p->words;
    for (int w = 0; w < p->words; w++)
        if (node->set[w] & ~like[w])
            return 1;
    return 0;
}

/* Requirements not met yet of the remedies worth naming for some member. */
static Word owed_here(const Problem *p, const Node *node)
{
    Word owed = 0;
    for (int w = 0; w < p->words; w++)
        for (Word bits = node->set[w]; bits; bits &= bits - 1)
            owed |= p->owed[w * 64 + __builtin_ctzll(bits)];
    return owed & ~node->noted;
}

/* Whether an answer that some member can show meets one of these requirements. */
static int meets(const Problem *p, const Node *node, int test, Word owed)
{
    for (int c = p->first[test]; owed && c < p->first[test + 1]; c++) {
        if (!(p->notes[c] & owed))
            continue;
        for (int w = 0; w < p->words; w++)
            if (node->set[w] & p->support[(size_t)c * p->words + w])
                return 1;
    }
    return 0;
}

/* Whether one class is left and whatever is best for it may be named. */
int node_settled(const Problem *p, const Node *node)
{
    return node_size(p, node) < 2 && !owed_here(p, node);
}

static int open_to(const Problem *p, const Node *node, int test)
{
    if (p->barred[test] & node->opened)
        return 0;
    return p->slot[test] < 0 || !node->code[p->slot[test]];
}

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

static double chunk_mass(const Problem *p, const Node *node, int column)
{
    const Word *support = p->support + (size_t)column * p->words;
    double mass = 0;
    for (int w = 0; w < p->words; w++) {
        Word bits = node->set[w] & support[w];
        for (int b = w * 8; bits; bits >>= 8, b++)
            mass += p->chunk[(size_t)b * 256 + (bits & 255)];
    }
    return mass;
}

static int is_mixed(const Problem *p, const Node *node, int test)
{
    if (p->slot[test] < 0)
        return 0;
    const Word *mixed = p->mixed + (size_t)test * p->words;
    for (int w = 0; w < p->words; w++)
        if (node->set[w] & mixed[w])
            return 1;
    return 0;
}

static void weigh(const Problem *p, Frame *f, const Node *node, int test)
{
    int first = p->first[test], outcomes = p->first[test + 1] - first;
    double *mass = f->mass + first;
    if (!node->coded && !is_mixed(p, node, test)) {
        for (int o = 0; o < outcomes; o++)
            mass[o] = chunk_mass(p, node, first + o);
        return;
    }
    const uint8_t *shown = p->shown + (size_t)test * p->classes;
    memset(mass, 0, outcomes * sizeof(double));
    for (int i = 0; i < f->members; i++) {
        int k = f->member[i];
        if (shown[k] != MIXED)
            mass[shown[k]] += node->weight[k];
        else
            for (int o = 0; o < outcomes; o++)
                mass[o] += node->weight[k] * p->column[(size_t)(first + o) * p->classes + k];
    }
}

/* The leads of a bundle that are not out yet, that some test here asks for and that are in reach once
 * it is opened for the test. */
Word search_leads(const Problem *p, const Frame *f, const Node *node, int test, int bundle)
{
    Word asked = 0, open = node->opened | p->need[test];
    for (int i = 0; bundle && i < f->tests; i++)
        asked |= p->need[f->test[i]];
    Word leads = p->bundle[bundle] & asked & ~node->opened;
    for (Word w = leads; w; w &= w - 1)
        if (p->after[__builtin_ctzll(w)] & ~open)
            leads &= ~(w & -w);
    return leads;
}

/* A test and the bundle brought out for it, in one number. */
int pick_of(const Problem *p, const Frame *f, int i)
{
    return f->test[i] + f->bundle[i] * p->tests;
}

static void list_test(const Problem *p, Frame *f, const Node *node, int test)
{
    int i = f->tests++;
    f->test[i] = test;
    f->base[i] = i;
    f->bundle[i] = 0;
    f->more[i] = 0;
    f->cost[i] = p->awaits[test] & ~node->noted
        ? INFINITY : p->minutes[test] + setup_minutes(p, node, test);
    f->useful[test / 64] |= (Word)1 << (test % 64);
    weigh(p, f, node, test);
}

/* A test that is read over leads once more, with others brought out before it: hands go in for that,
 * if not on the way anyhow. No two bundles that bring out the same. */
static void list_bundles(const Problem *p, Frame *f, const Node *node)
{
    Word seen[64], more;
    for (int i = 0; i < f->tests; i++) {
        int t = f->test[i], many = 0;
        Word own = p->need[t] & *p->leads;
        if (!own || f->cost[i] == INFINITY)
            continue;
        for (int b = 1; b < p->bundles && b < 64; b++) {
            more = search_leads(p, f, node, t, b) & ~own;
            int known = !more || !(p->bundle[b] & own);
            for (int k = 0; k < many && !known; k++)
                known = seen[k] == more;
            if (known)
                continue;
            int e = f->entries++;
            seen[many++] = more;
            f->test[e] = t;
            f->base[e] = i;
            f->bundle[e] = b;
            f->more[e] = 0;
            for (Word w = more; w; w &= w - 1)
                f->more[e] += p->opening[__builtin_ctzll(w)];
            size_t change = (size_t)node->place * p->places + p->place[t];
            double way = p->need[t] & ~node->opened ? 0 : p->hands_in[change] - p->direct[change];
            f->more[e] += way;
            f->cost[e] = f->cost[i] + f->more[e];
        }
    }
}

/* Take stock of a node in the frame of its depth. NULL when memory is short. */
Frame *search_enter(Search *s, Node *node, int depth)
{
    const Problem *p = s->problem;
    Frame *f = &s->frames[depth], *above = depth ? f - 1 : NULL;
    if (!frame_ready(s, depth))
        return NULL;
    f->bit_price = s->bit_price;
    list_members(p, f, node);
    f->stop = stop_cost(p, node, f, f->room, &f->remedy);
    f->tests = f->shown = f->bounded = 0;
    memset(f->useful, 0, p->test_words * sizeof(Word));
    int many = above ? above->tests : p->tests, member = f->member[0];
    Word wanted = owed_here(p, node);
    for (Word before = ~wanted; wanted != before;) { /* again where a test awaits what others meet */
        before = wanted;
        for (int i = 0; i < many; i++) {
            int t = above ? above->test[i] : i;
            if (f->useful[t / 64] >> (t % 64) & 1 || !open_to(p, node, t)
                || !(tells(p, node, t, member) || meets(p, node, t, wanted)))
                continue;
            list_test(p, f, node, t);
            wanted |= p->awaits[t] & ~node->noted;
        }
    }
    f->entries = f->tests;
    if (p->bundles > 1)
        list_bundles(p, f, node);
    return f;
}

/* ---- the memo key ---- */

/* `tests` holds at least those that tell something or meet a requirement here. Openings that none
 * of them asks for are left out, so that more sub-problems agree, and so are requirements that
 * nothing here waits for; marks say whether a closed-only test is still open, and whether one is
 * that a short found would bar. */
void search_key(const Search *s, const Node *node, const int *tests, int many, Word *key)
{
    const Problem *p = s->problem;
    Word asked = 0, left = 0, met = 0;
    int member = first_member(p, node);
    for (int w = 0; w < p->words; w++)
        for (Word bits = node->set[w]; bits; bits &= bits - 1)
            met |= p->owed[w * 64 + __builtin_ctzll(bits)];
    for (Word before = ~met; met != before;) { /* again where a test awaits what others meet */
        before = met;
        for (int i = 0; i < many; i++) {
            int t = tests[i];
            int matters = (p->need[t] & node->opened & ~asked) || (p->barred[t] & ~left)
                || (p->awaits[t] & ~met);
            if (!matters || !open_to(p, node, t)
                || !(tells(p, node, t, member) || meets(p, node, t, met & ~node->noted)))
                continue;
            asked |= p->need[t];
            left |= p->barred[t];
            met |= p->awaits[t];
        }
    }
    memset(key, 0, s->memo.key_words * sizeof(Word));
    memcpy(key, node->set, p->words * sizeof(Word));
    Word closed = (left & ~SHORT_FOUND) != 0, live = (left & SHORT_FOUND) != 0;
    key[p->words] = node->opened & asked;
    key[p->words + 1] = (Word)node->place | closed << 32 | live << 33;
    key[p->words + 2] = node->noted & met;
    if (node->coded)
        memcpy(key + p->words + 3, node->code, p->slots);
}

/* Whether the child's last answer, by the short that it showed, took away a test that still tells or
 * could show what is required. */
int search_loses(const Problem *p, const Frame *f, const Node *node, const Node *child)
{
    Word found = child->opened & ~node->opened & SHORT_FOUND;
    int member = found ? first_member(p, child) : 0;
    for (int i = 0; found && i < f->tests; i++) {
        int t = f->test[i];
        if (p->barred[t] & found
            && (tells(p, child, t, member) || meets(p, child, t, ~child->noted)))
            return 1;
    }
    return 0;
}

/* ---- branching ---- */

static int constant(const Problem *p, const Node *node, const double *column, int member)
{
    for (int w = 0; w < p->words; w++)
        for (Word bits = node->set[w]; bits; bits &= bits - 1)
            if (column[w * 64 + __builtin_ctzll(bits)] != column[member])
                return 0;
    return 1;
}

static void scale_out(const Problem *p, Node *node, double odds)
{
    node->scale *= odds;
    for (int w = 0; w < p->words; w++)
        for (Word bits = node->set[w]; bits; bits &= bits - 1)
            node->own[w * 64 + __builtin_ctzll(bits)] /= odds;
}

/* Evidence equal for all that remain leaves the weights; `scale` keeps what it was worth. */
static void settle(const Problem *p, Node *node)
{
    int member = first_member(p, node);
    node->coded = 0;
    for (int t = 0; t < p->tests; t++) {
        int slot = p->slot[t];
        if (slot < 0 || !node->code[slot])
            continue;
        if (node->code[slot] != SPENT) {
            size_t at = p->first[t] + node->code[slot] - 1;
            const double *column = p->column + at * p->classes;
            if (constant(p, node, column, member)) {
                scale_out(p, node, column[member]);
                node->code[slot] = SPENT;
            }
        }
        if (node->code[slot] == SPENT && !tells(p, node, t, member)
            && !meets(p, node, t, ~node->noted))
            node->code[slot] = 0;
        node->coded |= node->code[slot] != 0;
    }
    node->weight = node->coded ? node->own : p->weight;
}

/* The sub-problem after an outcome of the test, `more` leads brought out with it; its set is empty
 * where none can show it. */
void search_branch(const Problem *p, const Node *node, int test, Word more, int outcome,
                   Node *child)
{
    size_t column = p->first[test] + outcome;
    const double *odds = p->column + column * p->classes;
    int slot = p->slot[test], some = 0;
    for (int w = 0; w < p->words; w++) {
        child->set[w] = node->set[w] & p->support[column * p->words + w];
        some |= child->set[w] != 0;
    }
    child->opened = node->opened | p->need[test] | more | p->sets[column];
    child->noted = node->noted | p->notes[column];
    child->place = p->place[test];
    child->scale = 1;
    child->coded = 0;
    child->weight = p->weight;
    if (p->slots)
        memcpy(child->code, node->code, p->slots);
    if (!some || (slot < 0 && !node->coded))
        return;
    if (slot >= 0)
        child->code[slot] = (uint8_t)(1 + outcome);
    for (int w = 0; w < p->words; w++)
        for (Word bits = child->set[w]; bits; bits &= bits - 1) {
            int k = w * 64 + __builtin_ctzll(bits);
            child->own[k] = node->weight[k] * odds[k];
        }
    settle(p, child);
}

/* Sub-problems: their room, the minutes of getting at a test, their memo key, and branching.
 *
 * A branch costs O(classes), with evidence that splits O(tests x classes); a key O(tests x classes
 * / 64). Where rows split, the evidence code keeps apart sub-problems of equal sets and unlike
 * weights; evidence equal for all that remain is scaled out of the weights, so that more of them
 * agree. */
#include <stdlib.h>
#include <string.h>
#include "node.h"

int node_make(const Problem *p, Node *node)
{
    memset(node, 0, sizeof *node);
    node->set = calloc(p->classes.words, sizeof(Word));
    node->code = calloc(p->rows.slots + 1, 1);
    node->own = calloc(p->classes.count, sizeof(double));
    node->weight = p->classes.weight;
    node->scale = 1;
    return node->set && node->code && node->own;
}

void node_free(Node *node)
{
    free(node->set);
    free(node->code);
    free(node->own);
}

int node_make_root(const Problem *p, Node *node, Word openings, Word fulfilment, int place)
{
    if (!node_make(p, node))
        return 0;
    for (int k = 0; k < p->classes.count; k++)
        node->set[k / 64] |= (Word)1 << (k % 64);
    node->openings = openings;
    node->fulfilment = fulfilment;
    node->place = place;
    return 1;
}

double setup_minutes(const Problem *p, const Node *node, int test)
{
    Word missing = p->tests.need[test] & ~node->openings;
    size_t change = (size_t)node->place * p->places.count + p->tests.place[test];
    if (!missing)
        return p->places.direct[change];
    double minutes = p->places.hands_in[change];
    for (; missing; missing &= missing - 1)
        minutes += p->openings.minutes[__builtin_ctzll(missing)];
    return minutes;
}

size_t node_key_words(const Problem *p)
{
    return p->classes.words + 3 + (p->rows.slots + 7) / 8;
}

/* Openings that no test here asks for are left out, so that more sub-problems agree, and so are
 * requirements that nothing here waits for; marks say whether a closed-only test is still open, and
 * whether one is that a short found would bar. */
void node_key(const Problem *p, const Node *node, const int *tests, int count, Word *key)
{
    const Tests *all = &p->tests;
    Word need = 0, bars = 0, awaits = node_requirements(p, node);
    int member = node_first(p, node);
    /* Again where a test awaits what others meet. */
    for (Word before = ~awaits; awaits != before;) {
        before = awaits;
        for (int i = 0; i < count; i++) {
            int t = tests[i];
            int matters = (all->need[t] & node->openings & ~need) || (all->bars[t] & ~bars)
                || (all->requirements[t] & ~awaits);
            if (!matters || !node_is_open_to(p, node, t)
                || !(node_tells(p, node, t, member)
                     || node_can_meet(p, node, t, awaits & ~node->fulfilment)))
                continue;
            need |= all->need[t];
            bars |= all->bars[t];
            awaits |= all->requirements[t];
        }
    }
    memset(key, 0, node_key_words(p) * sizeof(Word));
    memcpy(key, node->set, p->classes.words * sizeof(Word));
    Word closed = (bars & ~SHORT_FOUND) != 0, live = (bars & SHORT_FOUND) != 0;
    key[p->classes.words] = node->openings & need;
    key[p->classes.words + 1] = (Word)node->place | closed << 32 | live << 33;
    key[p->classes.words + 2] = node->fulfilment & awaits;
    if (node->has_code)
        memcpy(key + p->classes.words + 3, node->code, p->rows.slots);
}

static int is_constant(const Problem *p, const Node *node, const double *column, int member)
{
    for (int w = 0; w < p->classes.words; w++)
        for (Word bits = node->set[w]; bits; bits &= bits - 1)
            if (column[w * 64 + __builtin_ctzll(bits)] != column[member])
                return 0;
    return 1;
}

static void scale_out(const Problem *p, Node *node, double odds)
{
    node->scale *= odds;
    for (int w = 0; w < p->classes.words; w++)
        for (Word bits = node->set[w]; bits; bits &= bits - 1)
            node->own[w * 64 + __builtin_ctzll(bits)] /= odds;
}

/* Evidence equal for all that remain leaves the weights; `scale` keeps what it was worth. */
static void reduce_code(const Problem *p, Node *node)
{
    int member = node_first(p, node);
    node->has_code = 0;
    for (int t = 0; t < p->tests.count; t++) {
        int slot = p->rows.slot[t];
        if (slot < 0 || !node->code[slot])
            continue;
        if (node->code[slot] != SPENT) {
            size_t at = p->outcomes.first[t] + node->code[slot] - 1;
            const double *column = p->outcomes.odds + at * p->classes.count;
            if (is_constant(p, node, column, member)) {
                scale_out(p, node, column[member]);
                node->code[slot] = SPENT;
            }
        }
        if (node->code[slot] == SPENT && !node_tells(p, node, t, member)
            && !node_can_meet(p, node, t, ~node->fulfilment))
            node->code[slot] = 0;
        node->has_code |= node->code[slot] != 0;
    }
    node->weight = node->has_code ? node->own : p->classes.weight;
}

void node_branch(const Problem *p, const Node *node, int test, Word leads, int outcome,
                 Node *child)
{
    size_t column = p->outcomes.first[test] + outcome;
    const double *odds = p->outcomes.odds + column * p->classes.count;
    int slot = p->rows.slot[test], some = 0;
    for (int w = 0; w < p->classes.words; w++) {
        child->set[w] = node->set[w] & p->outcomes.support[column * p->classes.words + w];
        some |= child->set[w] != 0;
    }
    child->openings = node->openings | p->tests.need[test] | leads
        | p->outcomes.short_bit[column];
    child->fulfilment = node->fulfilment | p->outcomes.fulfilment[column];
    child->place = p->tests.place[test];
    child->scale = 1;
    child->has_code = 0;
    child->weight = p->classes.weight;
    if (p->rows.slots)
        memcpy(child->code, node->code, p->rows.slots);
    if (!some || (slot < 0 && !node->has_code))
        return;
    if (slot >= 0)
        child->code[slot] = (uint8_t)(1 + outcome);
    for (int w = 0; w < p->classes.words; w++)
        for (Word bits = child->set[w]; bits; bits &= bits - 1) {
            int k = w * 64 + __builtin_ctzll(bits);
            child->own[k] = node->weight[k] * odds[k];
        }
    reduce_code(p, child);
}

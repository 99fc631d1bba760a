/* What the root's prices by groups say of any sub-problem: prices, bids and shares stay as they are,
 * for they give a bound whatever they are; only masses, and tolls paid already, are the node's own. */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "groups.h"

/* Tolls beyond these are never charged away from the root. */
enum { MOST_TOLLS = 63 };

static Word bit_of(int toll)
{
    return (Word)1 << (toll < MOST_TOLLS ? toll : MOST_TOLLS);
}

/* ---- set down once the climb is over ---- */

/* What a class pays at its verdict but for the logs of its groups' masses, which the node gives. */
static void set_ends(Groups *g)
{
    for (int k = 0; k < g->many; k++) {
        g->end[k] = g->least[k];
        for (int c = g->chair_from[k]; c < g->chair_from[k + 1]; c++)
            g->end[k] -= g->theta[g->chair[c]] * g->log_sum[g->home[g->chair[c]]];
    }
}

static void list_tolls(Groups *g)
{
    int many = 0;
    for (int t = 0; t < g->p->tests; t++) {
        g->due_mask[t] = 0;
        for (int i = 0; i < g->tolls; i++)
            for (int x = g->toll_from[i]; x < g->toll_from[i + 1]; x++)
                if (g->toll_test[x] == t) {
                    g->due_toll[many] = i;
                    g->due_part[many++] = x;
                    g->due_mask[t] |= bit_of(i);
                }
        g->due_from[t + 1] = many;
    }
}

/* Minutes of the tolls that a class pays for a test, those in `freed` or all of them. */
static double tolls_on(const Groups *g, int t, int k, Word freed)
{
    double sum = 0;
    for (int x = g->due_from[t]; x < g->due_from[t + 1]; x++)
        if (freed & bit_of(g->due_toll[x]))
            sum += g->toll[g->due_toll[x]] * g->part[(size_t)g->due_part[x] * g->many + k];
    return sum;
}

/* The classes that a test may earn from, those that it earns from with all tolls due first. */
static void list_hot(Groups *g)
{
    int many = 0;
    for (int t = 0; t < g->p->tests; t++) {
        const double *margin = g->margin + (size_t)t * g->many;
        for (int k = 0; k < g->many; k++)
            if (margin[k] > 0)
                g->hot[many++] = k;
        g->warm_to[t] = many;
        for (int k = 0; k < g->many; k++)
            if (margin[k] <= 0 && margin[k] + tolls_on(g, t, k, ~(Word)0) > 0)
                g->hot[many++] = k;
        g->hot_from[t + 1] = many;
    }
}

int groups_settle(Groups *g, double round)
{
    const Problem *p = g->p;
    int bad = 0;
    g->end = groups_room(g->many, sizeof(double), &bad);
    g->hot = groups_room((size_t)p->tests * g->many, sizeof(int), &bad);
    g->hot_from = groups_room(p->tests + 1, sizeof(int), &bad);
    g->warm_to = groups_room(p->tests, sizeof(int), &bad);
    g->due_mask = groups_room(p->tests, sizeof(Word), &bad);
    g->due_toll = groups_room(g->toll_from[g->tolls], sizeof(int), &bad);
    g->due_part = groups_room(g->toll_from[g->tolls], sizeof(int), &bad);
    g->due_from = groups_room(p->tests + 1, sizeof(int), &bad);
    if (bad)
        return 0;
    groups_value(g, round);
    set_ends(g);
    list_tolls(g);
    list_hot(g);
    return 1;
}

/* ---- at a node ---- */

static Word freed_tolls(const Groups *g, const Node *node)
{
    const Problem *p = g->p;
    Word freed = bit_of(MOST_TOLLS);
    for (int i = 0; i < g->tolls && i < MOST_TOLLS; i++)
        if (i < p->tolls ? p->behind[(size_t)i * p->places + node->place]
                         : node->opened >> (i - p->tolls) & 1)
            freed |= bit_of(i);
    return freed;
}

/* What a test earns at most here. */
static double earned(const Groups *g, const Node *node, int t, Word freed)
{
    double sum = 0;
    const double *margin = g->margin + (size_t)t * g->many;
    int some = (freed & g->due_mask[t]) != 0, to = some ? g->hot_from[t + 1] : g->warm_to[t];
    for (int x = g->hot_from[t]; x < to; x++) {
        int k = g->hot[x], own = g->who[k];
        if (!(node->set[own / 64] >> (own % 64) & 1))
            continue;
        double here = margin[k] + (some ? tolls_on(g, t, k, freed) : 0);
        sum += here > 0 ? node->weight[own] * here : 0;
    }
    return sum;
}

/* A lower bound of the cost from here. */
double groups_bound(Groups *g, const Frame *f, const Node *node)
{
    double sum = 0, *mass = g->by_group;
    memset(mass, 0, g->groups * sizeof(double));
    for (int i = 0; i < f->members; i++) {
        int k = g->local[f->member[i]];
        double weight = node->weight[f->member[i]];
        sum += weight * g->end[k];
        if (weight != g->weight[k])
            sum -= weight * g->of_class[k] * log2(weight / g->weight[k]);
        for (int c = g->chair_from[k]; c < g->chair_from[k + 1]; c++)
            mass[g->home[g->chair[c]]] += weight * g->theta[g->chair[c]];
    }
    for (int i = 0; i < g->groups; i++)
        sum += mass[i] > 0 ? mass[i] * log2(mass[i]) : 0;
    Word freed = freed_tolls(g, node);
    for (int i = 0; i < f->tests; i++)
        sum -= earned(g, node, f->test[i], freed);
    return sum * (1 - 1e-9);
}

/* What each test must cost when it is done first: all buy then, whether or not it is worth it. */
void groups_floors(Groups *g, Frame *f, const Node *node)
{
    double bound = groups_bound(g, f, node);
    Word freed = freed_tolls(g, node);
    for (int i = 0; i < f->tests; i++) {
        int t = f->test[i];
        const double *margin = g->margin + (size_t)t * g->many;
        int some = (freed & g->due_mask[t]) != 0;
        double floor = bound + earned(g, node, t, freed);
        for (int m = 0; m < f->members; m++) {
            int k = g->local[f->member[m]];
            double here = margin[k] + (some ? tolls_on(g, t, k, freed) : 0);
            floor -= node->weight[f->member[m]] * here;
        }
        f->lower[i] = floor > f->lower[i] ? floor : f->lower[i];
    }
}

/* What the root's dual prices say of any sub-problem below it.
 *
 * Prices, reference distributions and shares stay as the climb left them, for they give a bound
 * whatever they are; only masses, and cuts crossed already, are the node's own. O(memberships of
 * its classes + tests x classes that they profit from). */
#include <math.h>
#include <string.h>
#include "group_dual.h"
#include "memory.h"

/* Cuts beyond these are never charged away from the root. */
enum { MOST_CUTS = 63 };

/* Smoothing of the last evaluation, minutes; it moves no number that is set down. */
static const double LAST_TEMPERATURE = 0.02;

static Word cut_bit(int cut)
{
    return (Word)1 << (cut < MOST_CUTS ? cut : MOST_CUTS);
}

/* ---- set down once the climb is over ---- */

/* What a class pays at its leaf but for the logs of its groups' masses, which the node gives. */
static void set_leaf_costs(Groups *g)
{
    const Family *all = &g->family;
    for (int k = 0; k < g->classes.count; k++) {
        g->node.leaf_cost[k] = g->leaves.least[k];
        for (int c = all->class_first[k]; c < all->class_first[k + 1]; c++) {
            int m = all->of_class[c];
            g->node.leaf_cost[k] -= g->prices.unit[m] * g->prices.log_sum[all->group[m]];
        }
    }
}

static void list_cuts(Groups *g)
{
    int count = 0;
    for (int t = 0; t < g->problem->tests.count; t++) {
        g->node.cut_set[t] = 0;
        for (int i = 0; i < g->cuts.count; i++)
            for (int x = g->cuts.first[i]; x < g->cuts.first[i + 1]; x++)
                if (g->cuts.test[x] == t) {
                    g->node.cut[count] = i;
                    g->node.cut_share[count++] = x;
                    g->node.cut_set[t] |= cut_bit(i);
                }
        g->node.cut_first[t + 1] = count;
    }
}

/* Minutes that a class pays for a test on account of these cuts. */
static double cut_minutes(const Groups *g, int t, int k, Word cuts)
{
    double sum = 0;
    for (int x = g->node.cut_first[t]; x < g->node.cut_first[t + 1]; x++) {
        int cut = g->node.cut[x];
        if (cuts & cut_bit(cut))
            sum += g->cuts.minutes[cut]
                * g->cuts.share[(size_t)g->node.cut_share[x] * g->classes.count + k];
    }
    return sum;
}

/* The classes that a test may profit from, those that it profits from with all cuts due first. */
static void list_payers(Groups *g)
{
    int count = 0;
    for (int t = 0; t < g->problem->tests.count; t++) {
        const double *profit = g->profits.unit + (size_t)t * g->classes.count;
        for (int k = 0; k < g->classes.count; k++)
            if (profit[k] > 0)
                g->node.payer[count++] = k;
        g->node.payer_last[t] = count;
        for (int k = 0; k < g->classes.count; k++)
            if (profit[k] <= 0 && profit[k] + cut_minutes(g, t, k, ~(Word)0) > 0)
                g->node.payer[count++] = k;
        g->node.payer_first[t + 1] = count;
    }
}

int groups_fix(Groups *g)
{
    int failure = 0, tests = g->problem->tests.count, cut_tests = g->cuts.first[g->cuts.count];
    g->node.leaf_cost = zeroes(g->classes.count, sizeof(double), &failure);
    g->node.payer = zeroes((size_t)tests * g->classes.count, sizeof(int), &failure);
    g->node.payer_first = zeroes(tests + 1, sizeof(int), &failure);
    g->node.payer_last = zeroes(tests, sizeof(int), &failure);
    g->node.cut_set = zeroes(tests, sizeof(Word), &failure);
    g->node.cut = zeroes(cut_tests, sizeof(int), &failure);
    g->node.cut_share = zeroes(cut_tests, sizeof(int), &failure);
    g->node.cut_first = zeroes(tests + 1, sizeof(int), &failure);
    if (failure)
        return 0;
    dual_value(g, LAST_TEMPERATURE);
    set_leaf_costs(g);
    list_cuts(g);
    list_payers(g);
    return 1;
}

/* ---- at a node ---- */

/* The cuts that the bench is behind already. */
static Word free_cuts(const Groups *g, const Node *node)
{
    const Problem *p = g->problem;
    Word cuts = cut_bit(MOST_CUTS);
    for (int i = 0; i < g->cuts.count && i < MOST_CUTS; i++)
        if (i < p->cuts.count ? p->cuts.behind[(size_t)i * p->places.count + node->place]
                              : node->openings >> (i - p->cuts.count) & 1)
            cuts |= cut_bit(i);
    return cuts;
}

/* Greatest reduced profit of a test here. */
static double profit_here(const Groups *g, const Node *node, int t, Word cuts)
{
    double sum = 0;
    const double *profit = g->profits.unit + (size_t)t * g->classes.count;
    int some = (cuts & g->node.cut_set[t]) != 0;
    int last = some ? g->node.payer_first[t + 1] : g->node.payer_last[t];
    for (int x = g->node.payer_first[t]; x < last; x++) {
        int k = g->node.payer[x], own = g->classes.id[k];
        if (!(node->set[own / 64] >> (own % 64) & 1))
            continue;
        double here = profit[k] + (some ? cut_minutes(g, t, k, cuts) : 0);
        sum += here > 0 ? node->weight[own] * here : 0;
    }
    return sum;
}

double groups_bound(Groups *g, const Frame *f, const Node *node)
{
    const Family *all = &g->family;
    double sum = 0, *mass = g->by_group;
    memset(mass, 0, all->count * sizeof(double));
    for (int i = 0; i < f->members.count; i++) {
        int k = g->classes.local[f->members.id[i]];
        double weight = node->weight[f->members.id[i]];
        sum += weight * g->node.leaf_cost[k];
        if (weight != g->classes.weight[k])
            sum -= weight * g->prices.of_class[k] * log2(weight / g->classes.weight[k]);
        for (int c = all->class_first[k]; c < all->class_first[k + 1]; c++)
            mass[all->group[all->of_class[c]]] += weight * g->prices.unit[all->of_class[c]];
    }
    for (int i = 0; i < all->count; i++)
        sum += mass[i] > 0 ? mass[i] * log2(mass[i]) : 0;
    Word cuts = free_cuts(g, node);
    for (int i = 0; i < f->tests.count; i++)
        sum -= profit_here(g, node, f->tests.id[i], cuts);
    return sum * (1 - 1e-9);
}

void groups_floors(Groups *g, Frame *f, const Node *node)
{
    double bound = groups_bound(g, f, node);
    Word cuts = free_cuts(g, node);
    for (int i = 0; i < f->tests.count; i++) {
        int t = f->tests.id[i];
        const double *profit = g->profits.unit + (size_t)t * g->classes.count;
        int some = (cuts & g->node.cut_set[t]) != 0;
        double floor = bound + profit_here(g, node, t, cuts);
        for (int m = 0; m < f->members.count; m++) {
            int k = g->classes.local[f->members.id[m]];
            double here = profit[k] + (some ? cut_minutes(g, t, k, cuts) : 0);
            floor -= node->weight[f->members.id[m]] * here;
        }
        f->ranking.lower[i] = floor > f->ranking.lower[i] ? floor : f->ranking.lower[i];
    }
}

void node_terms_free(Groups *g)
{
    void *blocks[] = {g->node.leaf_cost, g->node.payer_first, g->node.payer, g->node.payer_last,
                      g->node.cut_set, g->node.cut_first, g->node.cut, g->node.cut_share};
    for (size_t i = 0; i < sizeof blocks / sizeof *blocks; i++)
        free(blocks[i]);
}

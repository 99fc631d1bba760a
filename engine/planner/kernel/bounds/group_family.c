/* The groups, their memberships and dual prices. Prices are climbed as logs, so that they stay
 * above nothing. O(memberships) for an evaluation or a step. */
#include <math.h>
#include <string.h>
#include "group_dual.h"
#include "memory.h"

/* Prices at first, in parts of the price of a bit: of the group of all classes, of the others. */
static const double FIRST_PRICE = 0.7, SMALL_PRICE = 0.03;

/* Prices far under any that tells: lower ones would only lose their slope. */
static const double LEAST_LEANING = 1e-3, LEAST_LOG_PRICE = -40;

static int number_classes(Groups *g, const Node *root)
{
    int failure = 0, classes = g->problem->classes.count;
    g->classes.weight = zeroes(classes, sizeof(double), &failure);
    g->classes.id = zeroes(classes, sizeof(int), &failure);
    g->classes.local = zeroes(classes, sizeof(int), &failure);
    for (int k = 0; k < classes && !failure; k++)
        if (root->set[k / 64] >> (k % 64) & 1) {
            g->classes.weight[g->classes.count] = root->weight[k];
            g->classes.local[k] = g->classes.count;
            g->classes.id[g->classes.count++] = k;
        }
    return !failure;
}

static int is_in(const Groups *g, const GroupSets *sets, int group, int k)
{
    int id = g->classes.id[k];
    return sets->set[(size_t)group * g->problem->classes.words + id / 64] >> (id % 64) & 1;
}

static void list_memberships(Groups *g, const GroupSets *sets, double bit_price)
{
    Family *all = &g->family;
    int at = 0;
    for (int i = 0; i < all->count; i++) {
        const double *leaning = sets->leaning + (size_t)i * g->problem->classes.count;
        double price = bit_price * (i ? SMALL_PRICE : FIRST_PRICE);
        all->first[i] = at;
        for (int k = 0; k < g->classes.count; k++)
            if (is_in(g, sets, i, k)) {
                double part = leaning[g->classes.id[k]];
                g->prices.log.value[at] = log(price * (part > LEAST_LEANING ? part
                                                                            : LEAST_LEANING));
                all->group[at] = i;
                all->member[at++] = k;
                all->class_first[k + 1]++;
            }
    }
    all->first[all->count] = at;
    for (int k = 0; k < g->classes.count; k++)
        all->class_first[k + 1] += all->class_first[k];
    int *next = (int *)g->by_group;
    memcpy(next, all->class_first, g->classes.count * sizeof(int));
    for (int m = 0; m < at; m++)
        all->of_class[next[all->member[m]]++] = m;
}

int family_make(Groups *g, const GroupSets *sets, const Node *root, double bit_price)
{
    int failure = !number_classes(g, root), groups = g->family.count = sets->count;
    size_t memberships = 0;
    for (int i = 0; i < groups && !failure; i++)
        for (int k = 0; k < g->classes.count; k++)
            memberships += is_in(g, sets, i, k);
    g->family.first = zeroes(groups + 1, sizeof(int), &failure);
    g->family.member = zeroes(memberships, sizeof(int), &failure);
    g->family.group = zeroes(memberships, sizeof(int), &failure);
    g->family.of_class = zeroes(memberships, sizeof(int), &failure);
    g->family.class_first = zeroes(g->classes.count + 1, sizeof(int), &failure);
    g->prices.unit = zeroes(memberships, sizeof(double), &failure);
    g->prices.mass = zeroes(memberships, sizeof(double), &failure);
    g->prices.sum = zeroes(groups, sizeof(double), &failure);
    g->prices.log_sum = zeroes(groups, sizeof(double), &failure);
    g->prices.sum_gradient = zeroes(groups, sizeof(double), &failure);
    g->prices.of_class = zeroes(g->classes.count, sizeof(double), &failure);
    g->by_group = zeroes(groups + g->classes.count, sizeof(double), &failure);
    g->by_class = zeroes(g->classes.count, sizeof(double), &failure);
    variables_make(&g->prices.log, memberships, &failure);
    if (failure)
        return 0;
    list_memberships(g, sets, bit_price);
    memset(g->by_group, 0, (groups + g->classes.count) * sizeof(double));
    return 1;
}

void family_free(Groups *g)
{
    void *blocks[] = {g->classes.weight, g->classes.id, g->classes.local, g->family.first,
                      g->family.member, g->family.group, g->family.class_first,
                      g->family.of_class, g->prices.unit, g->prices.mass, g->prices.sum,
                      g->prices.log_sum, g->prices.sum_gradient, g->prices.of_class, g->by_group,
                      g->by_class};
    for (size_t i = 0; i < sizeof blocks / sizeof *blocks; i++)
        free(blocks[i]);
    variables_free(&g->prices.log);
}

void prices_spread(Groups *g)
{
    const Family *all = &g->family;
    Prices *prices = &g->prices;
    memset(prices->of_class, 0, g->classes.count * sizeof(double));
    for (int i = 0; i < all->count; i++) {
        double sum = 0;
        for (int m = all->first[i]; m < all->first[i + 1]; m++) {
            prices->unit[m] = exp(prices->log.value[m]);
            prices->mass[m] = prices->unit[m] * g->classes.weight[all->member[m]];
            prices->of_class[all->member[m]] += prices->unit[m];
            sum += prices->mass[m];
        }
        prices->sum[i] = sum;
        prices->log_sum[i] = log2(sum);
        prices->sum_gradient[i] = 0;
    }
}

void prices_step(Groups *g)
{
    const Family *all = &g->family;
    Variables *log_price = &g->prices.log;
    for (int m = 0; m < all->first[all->count]; m++) {
        log_price->gradient[m] += g->prices.sum_gradient[all->group[m]]
            * g->classes.weight[all->member[m]];
        log_price->gradient[m] *= g->prices.unit[m];
    }
    adam_step(&g->adam, log_price, 0, log_price->count);
    for (size_t i = 0; i < log_price->count; i++)
        log_price->value[i] = log_price->value[i] > LEAST_LOG_PRICE ? log_price->value[i]
                                                                    : LEAST_LOG_PRICE;
}

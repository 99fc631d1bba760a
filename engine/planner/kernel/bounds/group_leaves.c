/* What each class pays at its leaf: the remedy's regret and the bits it never had to buy.
 *
 * A leaf with remedy r has phi at most sum_g sum_k v_g(k) log2(1 / q_gr(k)) for every q_gr that
 * sums to no more than 1. Here q_gr(k) is (1 - b) v_g(k) exp(logit) over the sum of v_g exp(logit)
 * among the classes that r serves well, and b v_g(k) / v_g for those that it serves badly, b being
 * one share for all groups and remedies. Each class takes its cheapest leaf. Gradients are smoothed:
 * leaves have weights exp(-cost / temperature) (Yu. Nesterov, Mathematical Programming 103, 2005).
 * O(leaves x memberships of a class) for an evaluation. */
#include <math.h>
#include "group_dual.h"
#include "memory.h"

static const double LN_2 = 0.6931471805599453;
static const double BAD = 0.5;          /* part of the greatest regret: served badly from there */
static const double FIRST_REST = -6;    /* logit of the share left to leaves that serve badly */
static const double FIRST_LOGIT = 2;

static double regret_of(const Groups *g, int k, int r)
{
    const Problem *p = g->problem;
    return p->remedies.regret[(size_t)g->classes.id[k] * p->remedies.count + r];
}

static double greatest_regret(const Groups *g, int k)
{
    double most = 0;
    for (int r = 0; r < g->problem->remedies.count; r++) {
        double regret = regret_of(g, k, r);
        most = regret > most ? regret : most;
    }
    return most;
}

static int is_served(const Groups *g, int k, int r, double most)
{
    double regret = regret_of(g, k, r);
    return regret <= 0 || regret < BAD * most;
}

static void list_leaves(Groups *g, const double *most)
{
    int at = 0;
    for (int r = 0; r < g->problem->remedies.count; r++) {
        for (int k = 0; k < g->classes.count; k++) {
            double regret = regret_of(g, k, r);
            if (is_served(g, k, r, most[k])) {
                g->leaves.logit.value[at] = regret <= 0 ? FIRST_LOGIT : 0;
                g->leaves.member[at++] = k;
            } else if (regret < g->rest.regret[k])
                g->rest.regret[k] = regret;
        }
        g->leaves.first[r + 1] = at;
    }
}

int leaves_make(Groups *g)
{
    int failure = 0, remedies = g->problem->remedies.count;
    size_t leaves = 0, memberships = 0;
    double *most = g->by_class;
    for (int k = 0; k < g->classes.count; k++) {
        most[k] = greatest_regret(g, k);
        for (int r = 0; r < remedies; r++)
            if (is_served(g, k, r, most[k])) {
                leaves++;
                memberships += g->family.class_first[k + 1] - g->family.class_first[k];
            }
    }
    g->leaves.first = zeroes(remedies + 1, sizeof(int), &failure);
    g->leaves.member = zeroes(leaves, sizeof(int), &failure);
    g->leaves.cost = zeroes(leaves, sizeof(double), &failure);
    g->leaves.choice = zeroes(leaves, sizeof(double), &failure);
    g->leaves.log_mass = zeroes(memberships, sizeof(double), &failure);
    g->leaves.least = zeroes(g->classes.count, sizeof(double), &failure);
    g->rest.regret = zeroes(g->classes.count, sizeof(double), &failure);
    g->rest.choice = zeroes(g->classes.count, sizeof(double), &failure);
    variables_make(&g->leaves.logit, leaves, &failure);
    variables_make(&g->rest.logit, 1, &failure);
    if (failure)
        return 0;
    for (int k = 0; k < g->classes.count; k++)
        g->rest.regret[k] = INFINITY;
    g->rest.logit.value[0] = FIRST_REST;
    list_leaves(g, most);
    return 1;
}

void leaves_free(Groups *g)
{
    void *blocks[] = {g->leaves.first, g->leaves.member, g->leaves.cost, g->leaves.choice,
                      g->leaves.log_mass, g->leaves.least, g->rest.regret, g->rest.choice};
    for (size_t i = 0; i < sizeof blocks / sizeof *blocks; i++)
        free(blocks[i]);
    variables_free(&g->leaves.logit);
    variables_free(&g->rest.logit);
}

/* ---- costs ---- */

/* Clear what the leaves of a remedy wrote on the groups. */
static void clear_groups(Groups *g, int r)
{
    const Family *all = &g->family;
    for (int j = g->leaves.first[r]; j < g->leaves.first[r + 1]; j++) {
        int k = g->leaves.member[j];
        for (int c = all->class_first[k]; c < all->class_first[k + 1]; c++)
            g->by_group[all->group[all->of_class[c]]] = 0;
    }
}

/* Costs of the leaves of one remedy; `log_mass` gets the logs of the groups' masses among them. */
static size_t price_leaves(Groups *g, int r, double log_good, double *log_mass)
{
    const Family *all = &g->family;
    size_t count = 0;
    for (int j = g->leaves.first[r]; j < g->leaves.first[r + 1]; j++) {
        int k = g->leaves.member[j];
        double weight = exp(g->leaves.logit.value[j]);
        for (int c = all->class_first[k]; c < all->class_first[k + 1]; c++)
            g->by_group[all->group[all->of_class[c]]] += g->prices.mass[all->of_class[c]] * weight;
    }
    for (int j = g->leaves.first[r]; j < g->leaves.first[r + 1]; j++) {
        int k = g->leaves.member[j];
        double cost = regret_of(g, k, r)
            + g->prices.of_class[k] * (g->leaves.logit.value[j] / LN_2 + log_good);
        for (int c = all->class_first[k]; c < all->class_first[k + 1]; c++) {
            int m = all->of_class[c], group = all->group[m];
            log_mass[count] = log2(g->by_group[group]);
            cost += g->prices.unit[m] * (g->prices.log_sum[group] - log_mass[count++]);
        }
        g->leaves.cost[j] = cost;
    }
    clear_groups(g, r);
    return count;
}

/* Which leaf each class takes, smoothed; returns the least costs in all, not smoothed. */
static double choose_leaves(Groups *g, double log_bad, double temperature)
{
    Leaves *leaves = &g->leaves;
    int count = leaves->first[g->problem->remedies.count];
    double sum = 0, *all = g->by_class;
    for (int k = 0; k < g->classes.count; k++)
        leaves->least[k] = g->rest.regret[k] + g->prices.of_class[k] * log_bad;
    for (int j = 0; j < count; j++)
        if (leaves->cost[j] < leaves->least[leaves->member[j]])
            leaves->least[leaves->member[j]] = leaves->cost[j];
    for (int k = 0; k < g->classes.count; k++) {
        sum += g->classes.weight[k] * leaves->least[k];
        double slack = leaves->least[k] - g->rest.regret[k] - g->prices.of_class[k] * log_bad;
        all[k] = g->rest.choice[k] = exp(slack / temperature);
    }
    for (int j = 0; j < count; j++) {
        double slack = leaves->least[leaves->member[j]] - leaves->cost[j];
        all[leaves->member[j]] += leaves->choice[j] = exp(slack / temperature);
    }
    for (int j = 0; j < count; j++)
        leaves->choice[j] *= g->classes.weight[leaves->member[j]] / all[leaves->member[j]];
    for (int k = 0; k < g->classes.count; k++)
        g->rest.choice[k] *= g->classes.weight[k] / all[k];
    return sum;
}

/* ---- gradients ---- */

static size_t add_gradients(Groups *g, int r, double log_good, const double *log_mass)
{
    const Family *all = &g->family;
    Leaves *leaves = &g->leaves;
    size_t count = 0;
    for (int j = leaves->first[r]; j < leaves->first[r + 1]; j++) {
        int k = leaves->member[j];
        for (int c = all->class_first[k]; c < all->class_first[k + 1]; c++) {
            int m = all->of_class[c];
            g->by_group[all->group[m]] += g->prices.unit[m] * leaves->choice[j] / LN_2;
        }
    }
    for (int j = leaves->first[r]; j < leaves->first[r + 1]; j++) {
        int k = leaves->member[j];
        double factor = exp(leaves->logit.value[j]), weight = g->classes.weight[k];
        for (int c = all->class_first[k]; c < all->class_first[k + 1]; c++) {
            int m = all->of_class[c], group = all->group[m];
            double log_own = log_mass[count++];
            double push = g->by_group[group] / exp2(log_own) * factor;
            g->prices.log.gradient[m] += leaves->choice[j]
                * (g->prices.log_sum[group] - log_own + leaves->logit.value[j] / LN_2 + log_good)
                - push * weight;
            g->prices.sum_gradient[group] += g->prices.unit[m] * leaves->choice[j]
                / (g->prices.sum[group] * LN_2);
            leaves->logit.gradient[j] -= push * g->prices.mass[m];
        }
        leaves->logit.gradient[j] += g->prices.of_class[k] * leaves->choice[j] / LN_2;
    }
    clear_groups(g, r);
    return count;
}

static void add_rest_gradients(Groups *g, double log_bad, double bad)
{
    const Leaves *leaves = &g->leaves;
    double *gradient = g->rest.logit.gradient;
    for (int j = 0; j < leaves->first[g->problem->remedies.count]; j++)
        gradient[0] -= g->prices.of_class[leaves->member[j]] * leaves->choice[j] * bad / LN_2;
    for (int k = 0; k < g->classes.count; k++) {
        gradient[0] += g->prices.of_class[k] * g->rest.choice[k] * (1 - bad) / LN_2;
        for (int c = g->family.class_first[k]; c < g->family.class_first[k + 1]; c++)
            g->prices.log.gradient[g->family.of_class[c]] += g->rest.choice[k] * log_bad;
    }
}

double leaves_cost(Groups *g, double temperature)
{
    double bad = 1 / (1 + exp(-g->rest.logit.value[0]));
    double log_good = log2(1 - bad), log_bad = log2(bad);
    size_t count = 0;
    for (int r = 0; r < g->problem->remedies.count; r++)
        count += price_leaves(g, r, log_good, g->leaves.log_mass + count);
    double sum = choose_leaves(g, log_bad, temperature);
    count = 0;
    for (int r = 0; r < g->problem->remedies.count; r++)
        count += add_gradients(g, r, log_good, g->leaves.log_mass + count);
    add_rest_gradients(g, log_bad, bad);
    return sum;
}

void leaves_step(Groups *g)
{
    adam_step(&g->adam, &g->leaves.logit, 0, g->leaves.logit.count);
    adam_step(&g->adam, &g->rest.logit, 0, 1);
}

/* What each class pays at its verdict: the remedy's regret and the bits it never had to buy. */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "groups.h"

static const double LN_2 = 0.6931471805599453;
static const double NEAR = 0.5;        /* of the class's greatest regret */
static const double FIRST_REST = -6;   /* logit of the share kept for verdicts that serve badly */
static const double FIRST_FIT = 2;

static double greatest_regret(const Groups *g, int k)
{
    const Problem *p = g->p;
    double most = 0;
    for (int r = 0; r < p->remedies; r++) {
        double regret = p->regret[(size_t)g->who[k] * p->remedies + r];
        most = regret > most ? regret : most;
    }
    return most;
}

static int is_near(const Groups *g, int k, int r, double most)
{
    const Problem *p = g->p;
    double regret = p->regret[(size_t)g->who[k] * p->remedies + r];
    return regret <= 0 || regret < NEAR * most;
}

static void find_near(Groups *g, const double *most)
{
    const Problem *p = g->p;
    int at = 0;
    for (int r = 0; r < p->remedies; r++) {
        for (int k = 0; k < g->many; k++) {
            double regret = p->regret[(size_t)g->who[k] * p->remedies + r];
            if (is_near(g, k, r, most[k])) {
                g->fit.at[at] = regret <= 0 ? FIRST_FIT : 0;
                g->near[at++] = k;
            } else if (regret < g->far[k])
                g->far[k] = regret;
        }
        g->near_from[r + 1] = at;
    }
}

int ends_make(Groups *g)
{
    const Problem *p = g->p;
    int bad = 0;
    size_t many = 0, chairs = 0;
    double *most = g->gain;
    for (int k = 0; k < g->many; k++) {
        most[k] = greatest_regret(g, k);
        for (int r = 0; r < p->remedies; r++)
            if (is_near(g, k, r, most[k])) {
                many++;
                chairs += g->chair_from[k + 1] - g->chair_from[k];
            }
    }
    g->near_from = groups_room(p->remedies + 1, sizeof(int), &bad);
    g->near = groups_room(many, sizeof(int), &bad);
    g->near_cost = groups_room(many, sizeof(double), &bad);
    g->choice = groups_room(many, sizeof(double), &bad);
    g->log_share = groups_room(chairs, sizeof(double), &bad);
    g->far = groups_room(g->many, sizeof(double), &bad);
    g->odds = groups_room(g->many, sizeof(double), &bad);
    dials_make(&g->fit, many, &bad);
    dials_make(&g->rest, 1, &bad);
    if (bad)
        return 0;
    for (int k = 0; k < g->many; k++)
        g->far[k] = INFINITY;
    g->rest.at[0] = FIRST_REST;
    find_near(g, most);
    return 1;
}

/* ---- costs ---- */

/* Costs of the verdicts of one remedy on the classes near it; `shares` gets logs of group masses. */
static size_t price_remedy(Groups *g, int r, double kept, double *shares)
{
    const Problem *p = g->p;
    size_t used = 0;
    for (int j = g->near_from[r]; j < g->near_from[r + 1]; j++)
        for (int c = g->chair_from[g->near[j]]; c < g->chair_from[g->near[j] + 1]; c++)
            g->by_group[g->home[g->chair[c]]] += g->mass[g->chair[c]] * exp(g->fit.at[j]);
    for (int j = g->near_from[r]; j < g->near_from[r + 1]; j++) {
        int k = g->near[j];
        double cost = p->regret[(size_t)g->who[k] * p->remedies + r]
            + g->of_class[k] * (g->fit.at[j] / LN_2 + kept);
        for (int c = g->chair_from[k]; c < g->chair_from[k + 1]; c++) {
            int seat = g->chair[c], home = g->home[seat];
            shares[used] = log2(g->by_group[home]);
            cost += g->theta[seat] * (g->log_sum[home] - shares[used++]);
        }
        g->near_cost[j] = cost;
    }
    for (int j = g->near_from[r]; j < g->near_from[r + 1]; j++)
        for (int c = g->chair_from[g->near[j]]; c < g->chair_from[g->near[j] + 1]; c++)
            g->by_group[g->home[g->chair[c]]] = 0;
    return used;
}

/* Which verdict each class takes, rounded; returns the least costs in all, not rounded. */
static double choose_verdicts(Groups *g, double left, double round)
{
    const Problem *p = g->p;
    int nears = g->near_from[p->remedies];
    double sum = 0, *all = g->gain;
    for (int k = 0; k < g->many; k++)
        g->least[k] = g->far[k] + g->of_class[k] * left;
    for (int j = 0; j < nears; j++)
        if (g->near_cost[j] < g->least[g->near[j]])
            g->least[g->near[j]] = g->near_cost[j];
    for (int k = 0; k < g->many; k++) {
        sum += g->weight[k] * g->least[k];
        all[k] = g->odds[k] = exp((g->least[k] - g->far[k] - g->of_class[k] * left) / round);
    }
    for (int j = 0; j < nears; j++)
        all[g->near[j]] += g->choice[j] = exp((g->least[g->near[j]] - g->near_cost[j]) / round);
    for (int j = 0; j < nears; j++)
        g->choice[j] *= g->weight[g->near[j]] / all[g->near[j]];
    for (int k = 0; k < g->many; k++)
        g->odds[k] *= g->weight[k] / all[k];
    return sum;
}

/* ---- slopes ---- */

static size_t lean_remedy(Groups *g, int r, double kept, const double *shares)
{
    size_t used = 0;
    for (int j = g->near_from[r]; j < g->near_from[r + 1]; j++)
        for (int c = g->chair_from[g->near[j]]; c < g->chair_from[g->near[j] + 1]; c++) {
            int seat = g->chair[c];
            g->by_group[g->home[seat]] += g->theta[seat] * g->choice[j] / LN_2;
        }
    for (int j = g->near_from[r]; j < g->near_from[r + 1]; j++) {
        int k = g->near[j];
        double fit = exp(g->fit.at[j]), weight = g->weight[k];
        for (int c = g->chair_from[k]; c < g->chair_from[k + 1]; c++) {
            int seat = g->chair[c], home = g->home[seat];
            double share = shares[used++], pushed = g->by_group[home] / exp2(share) * fit;
            g->price.slope[seat] += g->choice[j]
                * (g->log_sum[home] - share + g->fit.at[j] / LN_2 + kept) - pushed * weight;
            g->lean[home] += g->theta[seat] * g->choice[j] / (g->sum[home] * LN_2);
            g->fit.slope[j] -= pushed * g->mass[seat];
        }
        g->fit.slope[j] += g->of_class[k] * g->choice[j] / LN_2;
    }
    for (int j = g->near_from[r]; j < g->near_from[r + 1]; j++)
        for (int c = g->chair_from[g->near[j]]; c < g->chair_from[g->near[j] + 1]; c++)
            g->by_group[g->home[g->chair[c]]] = 0;
    return used;
}

static void lean_rest(Groups *g, double left, double share)
{
    const Problem *p = g->p;
    for (int j = 0; j < g->near_from[p->remedies]; j++)
        g->rest.slope[0] -= g->of_class[g->near[j]] * g->choice[j] * share / LN_2;
    for (int k = 0; k < g->many; k++) {
        g->rest.slope[0] += g->of_class[k] * g->odds[k] * (1 - share) / LN_2;
        for (int c = g->chair_from[k]; c < g->chair_from[k + 1]; c++)
            g->price.slope[g->chair[c]] += g->odds[k] * left;
    }
}

/* What all classes pay at their verdicts, information never bought included; adds to the slopes. */
double ends_cost(Groups *g, double round)
{
    double share = 1 / (1 + exp(-g->rest.at[0])), kept = log2(1 - share), left = log2(share);
    size_t used = 0;
    for (int r = 0; r < g->p->remedies; r++)
        used += price_remedy(g, r, kept, g->log_share + used);
    double sum = choose_verdicts(g, left, round);
    used = 0;
    for (int r = 0; r < g->p->remedies; r++)
        used += lean_remedy(g, r, kept, g->log_share + used);
    lean_rest(g, left, share);
    return sum;
}

void ends_turn(Groups *g)
{
    dials_turn(g, &g->fit, 0, g->fit.many);
    dials_turn(g, &g->rest, 0, 1);
}

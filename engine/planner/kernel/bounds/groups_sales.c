/* What each test can earn where bits have a price of their own in each group, and set-up shares. */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "groups.h"

static const double LN_2 = 0.6931471805599453;
static const double COLD = 30;   /* roundings under the charge at which nobody buys */
static const double PULL = 0.3;  /* most that a share of a toll grows by in one step */

/* ---- rows and stalls ---- */

static void count_kinds(Groups *g)
{
    const Problem *p = g->p;
    for (int t = 0; t < p->tests; t++) {
        int most = 0;
        for (int k = 0; k < g->many; k++) {
            int kind = p->kind[(size_t)t * p->classes + g->who[k]];
            g->kind[(size_t)t * g->many + k] = (uint16_t)kind;
            most = kind > most ? kind : most;
        }
        g->kinds[t] = most + 1;
        g->row_from[t + 1] = g->row_from[t] + most + 1;
    }
}

static void read_rows(Groups *g, int t)
{
    const Problem *p = g->p;
    for (int k = 0; k < g->many; k++) {
        size_t at = g->row_from[t] + g->kind[(size_t)t * g->many + k];
        g->noise[at] = 0;
        for (int o = 0; o < outcomes_of(p, t); o++) {
            double odds = p->column[(size_t)(p->first[t] + o) * p->classes + g->who[k]];
            g->row[at * p->most_outcomes + o] = odds;
            g->noise[at] += odds > 0 ? odds * log2(odds) : 0;
        }
    }
}

static int parts(const Groups *g, int t, int group)
{
    const uint16_t *kind = g->kind + (size_t)t * g->many;
    for (int at = g->from[group] + 1; at < g->from[group + 1]; at++)
        if (kind[g->member[at]] != kind[g->member[at - 1]])
            return 1;
    return 0;
}

static size_t count_stalls(Groups *g, size_t *bids, size_t *widest)
{
    size_t stalls = 0;
    for (int t = 0; t < g->p->tests; t++) {
        size_t here = stalls;
        for (int i = 0; i < g->groups; i++)
            stalls += parts(g, t, i);
        g->stall_from[t + 1] = stalls;
        *bids += (stalls - here) * outcomes_of(g->p, t);
        size_t told = (stalls - here) * g->kinds[t];
        *widest = told > *widest ? told : *widest;
    }
    return stalls;
}

/* Bids at first: the outcomes' shares of all the group's mass. */
static void first_bids(Groups *g, int t, int group, double *bid)
{
    const Problem *p = g->p;
    for (int o = 0; o < outcomes_of(p, t); o++) {
        double mass = 1e-12;
        for (int at = g->from[group]; at < g->from[group + 1]; at++) {
            int k = g->member[at];
            mass += g->weight[k] * p->column[(size_t)(p->first[t] + o) * p->classes + g->who[k]];
        }
        bid[o] = log(mass);
    }
}

static void fill_stalls(Groups *g)
{
    size_t stall = 0, bid = 0;
    for (int t = 0; t < g->p->tests; t++)
        for (int i = 0; i < g->groups; i++) {
            if (!parts(g, t, i))
                continue;
            g->stall[stall] = i;
            g->bid_from[stall++] = bid;
            first_bids(g, t, i, g->bid.at + bid);
            bid += outcomes_of(g->p, t);
        }
}

/* ---- tolls ---- */

static int behind(const Groups *g, const Node *root, int toll, int t)
{
    const Problem *p = g->p;
    if (toll < p->tolls)
        return p->behind[(size_t)toll * p->places + p->place[t]]
            && !p->behind[(size_t)toll * p->places + root->place];
    return p->need[t] & ~root->opened & (Word)1 << (toll - p->tolls) ? 1 : 0;
}

static double toll_minutes(const Problem *p, int toll)
{
    return toll < p->tolls ? p->toll[toll] : p->opening[toll - p->tolls];
}

static int list_tolls(Groups *g, const Node *root)
{
    const Problem *p = g->p;
    int entries = 0;
    g->tolls = p->bounds & BOUND_SETUP ? p->tolls + p->openings : 0;
    for (int i = 0; i < g->tolls; i++) {
        g->toll[i] = toll_minutes(p, i);
        for (int t = 0; t < p->tests; t++)
            if (behind(g, root, i, t))
                g->toll_test[entries++] = t;
        g->toll_from[i + 1] = entries;
    }
    return entries;
}

static void first_shares(Groups *g)
{
    int classes = g->many;
    for (int i = 0; i < g->tolls; i++) {
        int from = g->toll_from[i], to = g->toll_from[i + 1];
        for (size_t at = (size_t)from * classes; at < (size_t)to * classes; at++)
            g->part[at] = 1.0 / (to - from);
    }
}

static void charge_all(Groups *g)
{
    const Problem *p = g->p;
    for (int t = 0; t < p->tests; t++)
        for (int k = 0; k < g->many; k++)
            g->charge[(size_t)t * g->many + k] = p->minutes[t];
    for (int i = 0; i < g->tolls; i++)
        for (int at = g->toll_from[i]; at < g->toll_from[i + 1]; at++) {
            double *charge = g->charge + (size_t)g->toll_test[at] * g->many;
            const double *part = g->part + (size_t)at * g->many;
            for (int k = 0; k < g->many; k++)
                charge[k] += g->toll[i] * part[k];
        }
}

/* Move each toll's shares to the tests that the class buys: what they earn then falls most. */
void share_tolls(Groups *g)
{
    int classes = g->many;
    double *mean = g->gain, *sum = g->least;
    for (int i = 0; i < g->tolls; i++) {
        memset(mean, 0, classes * sizeof(double));
        memset(sum, 0, classes * sizeof(double));
        for (int at = g->toll_from[i]; at < g->toll_from[i + 1]; at++) {
            const double *heat = g->heat + (size_t)g->toll_test[at] * classes;
            const double *part = g->part + (size_t)at * classes;
            for (int k = 0; k < classes; k++)
                mean[k] += part[k] * heat[k];
        }
        for (int at = g->toll_from[i]; at < g->toll_from[i + 1]; at++) {
            const double *heat = g->heat + (size_t)g->toll_test[at] * classes;
            double *part = g->part + (size_t)at * classes;
            for (int k = 0; k < classes; k++) {
                part[k] = part[k] * (1 + PULL * (heat[k] - mean[k])) + 1e-7;
                sum[k] += part[k];
            }
        }
        for (int at = g->toll_from[i]; at < g->toll_from[i + 1]; at++)
            for (int k = 0; k < classes; k++)
                g->part[(size_t)at * classes + k] /= sum[k];
    }
    charge_all(g);
}

int sales_make(Groups *g, const Node *root)
{
    const Problem *p = g->p;
    int bad = 0, tests = p->tests, tolls = p->tolls + p->openings;
    size_t bids = 0, widest = 0, table = (size_t)tests * g->many;
    g->kind = groups_room(table, sizeof(uint16_t), &bad);
    g->kinds = groups_room(tests, sizeof(int), &bad);
    g->row_from = groups_room(tests + 1, sizeof(size_t), &bad);
    g->stall_from = groups_room(tests + 1, sizeof(size_t), &bad);
    g->toll_from = groups_room(tolls + 1, sizeof(int), &bad);
    g->toll = groups_room(tolls, sizeof(double), &bad);
    g->toll_test = groups_room((size_t)tolls * tests, sizeof(int), &bad);
    g->gain = groups_room(g->many, sizeof(double), &bad);
    g->least = groups_room(g->many, sizeof(double), &bad);
    if (bad)
        return 0;
    count_kinds(g);
    size_t stalls = count_stalls(g, &bids, &widest), rows = g->row_from[tests];
    size_t shares = (size_t)list_tolls(g, root) * g->many;
    g->row = groups_room(rows * p->most_outcomes, sizeof(double), &bad);
    g->noise = groups_room(rows, sizeof(double), &bad);
    g->stall = groups_room(stalls, sizeof(int), &bad);
    g->bid_from = groups_room(stalls, sizeof(size_t), &bad);
    g->told = groups_room(widest, sizeof(double), &bad);
    g->share = groups_room((size_t)g->groups * p->most_outcomes, sizeof(double), &bad);
    g->charge = groups_room(table, sizeof(double), &bad);
    g->heat = groups_room(table, sizeof(double), &bad);
    g->margin = groups_room(table, sizeof(double), &bad);
    g->part = groups_room(shares, sizeof(double), &bad);
    dials_make(&g->bid, bids, &bad);
    if (bad)
        return 0;
    for (int t = 0; t < tests; t++)
        read_rows(g, t);
    fill_stalls(g);
    first_shares(g);
    charge_all(g);
    return 1;
}

/* ---- selling ---- */

/* Bits that the test's answer tells of each kind of row, by the bids of a stall. */
static void tell(const Groups *g, int t, size_t stall, double *share, double *told)
{
    const Problem *p = g->p;
    const double *bid = g->bid.at + g->bid_from[stall];
    int outcomes = outcomes_of(p, t);
    double most = bid[0], sum = 0;
    for (int o = 1; o < outcomes; o++)
        most = bid[o] > most ? bid[o] : most;
    for (int o = 0; o < outcomes; o++)
        sum += share[o] = exp(bid[o] - most);
    double offset = log(sum) + most;
    for (int o = 0; o < outcomes; o++)
        share[o] /= sum;
    for (int kind = 0; kind < g->kinds[t]; kind++) {
        size_t at = g->row_from[t] + kind;
        const double *row = g->row + at * p->most_outcomes;
        told[kind] = g->noise[at];
        for (int o = 0; o < outcomes; o++)
            if (row[o] > 0)
                told[kind] += row[o] * (offset - bid[o]) / LN_2;
    }
}

static void lean_on(Groups *g, int t, size_t stall, const double *share, const double *told)
{
    const Problem *p = g->p;
    const uint16_t *kind = g->kind + (size_t)t * g->many;
    const double *heat = g->heat + (size_t)t * g->many;
    double *slope = g->bid.slope + g->bid_from[stall], sold = 0;
    int group = g->stall[stall], outcomes = outcomes_of(p, t);
    for (int at = g->from[group]; at < g->from[group + 1]; at++) {
        int k = g->member[at];
        if (heat[k] <= 0)
            continue;
        double buys = g->mass[at] * heat[k] / LN_2;
        const double *row = g->row + (g->row_from[t] + kind[k]) * p->most_outcomes;
        g->price.slope[at] -= g->weight[k] * heat[k] * told[kind[k]];
        sold += buys;
        for (int o = 0; o < outcomes; o++)
            slope[o] += buys * row[o];
    }
    for (int o = 0; o < outcomes; o++)
        slope[o] -= sold * share[o];
}

/* What the test earns at most from all groups, rounded corners left out; adds to the slopes. */
double sell(Groups *g, int t, double round)
{
    const Problem *p = g->p;
    const uint16_t *kind = g->kind + (size_t)t * g->many;
    double *gain = g->gain, *heat = g->heat + (size_t)t * g->many, profit = 0;
    const double *charge = g->charge + (size_t)t * g->many;
    size_t from = g->stall_from[t], to = g->stall_from[t + 1];
    int warm = 0;
    memset(gain, 0, g->many * sizeof(double));
    for (size_t i = from; i < to; i++) {
        double *told = g->told + (i - from) * g->kinds[t];
        tell(g, t, i, g->share + (i - from) * p->most_outcomes, told);
        for (int at = g->from[g->stall[i]]; at < g->from[g->stall[i] + 1]; at++)
            gain[g->member[at]] += g->theta[at] * told[kind[g->member[at]]];
    }
    for (int k = 0; k < g->many; k++) {
        double margin = g->margin[(size_t)t * g->many + k] = gain[k] - charge[k];
        profit += margin > 0 ? g->weight[k] * margin : 0;
        heat[k] = margin > -COLD * round ? 1 / (1 + exp(-margin / round)) : 0;
        warm |= heat[k] > 0;
    }
    for (size_t i = from; i < to && warm; i++)
        lean_on(g, t, i, g->share + (i - from) * p->most_outcomes,
                g->told + (i - from) * g->kinds[t]);
    if (warm && to > from)
        dials_turn(g, &g->bid, g->bid_from[from], g->bid_from[to - 1] + outcomes_of(p, t));
    return profit;
}

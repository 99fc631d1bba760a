/* What each test earns at most where bits have a price of their own in each group.
 *
 * Doing t lowers the potential of group g by at most sum_k v_g(k) KL(row of k in t || q_gt), for
 * any reference distribution q_gt over the outcomes; q_gt is held as logits (a softmax). A class
 * does the test where the bits are worth more than its minutes: the sum of max(0, reduced profit)
 * over classes. Its gradients are smoothed: the step at 0 is the logistic function,
 * 1 / (1 + exp(-x / temperature)). O(terms x rows x outcomes + memberships of the terms x outcomes)
 * for a test.
 *
 * KL: S. Kullback and R. A. Leibler, Annals of Mathematical Statistics 22(1), 1951. */
#include <math.h>
#include <string.h>
#include "group_dual.h"
#include "memory.h"

static const double LN_2 = 0.6931471805599453;
static const double COLD = 30;   /* temperatures under the minutes at which no class does a test */

/* ---- rows and terms ---- */

static void count_rows(Groups *g)
{
    const Problem *p = g->problem;
    for (int t = 0; t < p->tests.count; t++) {
        int most = 0;
        for (int k = 0; k < g->classes.count; k++) {
            int row = p->row_pairs.row[(size_t)t * p->classes.count + g->classes.id[k]];
            g->rows.id[(size_t)t * g->classes.count + k] = (uint16_t)row;
            most = row > most ? row : most;
        }
        g->rows.count[t] = most + 1;
        g->rows.first[t + 1] = g->rows.first[t] + most + 1;
    }
}

static double odds_of(const Groups *g, int t, int outcome, int k)
{
    const Problem *p = g->problem;
    size_t column = p->outcomes.first[t] + outcome;
    return p->outcomes.odds[column * p->classes.count + g->classes.id[k]];
}

static void read_rows(Groups *g, int t)
{
    const Problem *p = g->problem;
    for (int k = 0; k < g->classes.count; k++) {
        size_t at = g->rows.first[t] + g->rows.id[(size_t)t * g->classes.count + k];
        g->rows.negentropy[at] = 0;
        for (int o = 0; o < outcome_count(p, t); o++) {
            double odds = odds_of(g, t, o, k);
            g->rows.odds[at * p->outcomes.most + o] = odds;
            g->rows.negentropy[at] += odds > 0 ? odds * log2(odds) : 0;
        }
    }
}

static int splits(const Groups *g, int t, int group)
{
    const uint16_t *row = g->rows.id + (size_t)t * g->classes.count;
    for (int m = g->family.first[group] + 1; m < g->family.first[group + 1]; m++)
        if (row[g->family.member[m]] != row[g->family.member[m - 1]])
            return 1;
    return 0;
}

/* Returns how many there are; `logits` of all of them, divergences of the test that has most. */
static size_t count_terms(Groups *g, size_t *logits, size_t *divergences)
{
    size_t terms = 0;
    for (int t = 0; t < g->problem->tests.count; t++) {
        size_t first = terms;
        for (int i = 0; i < g->family.count; i++)
            terms += splits(g, t, i);
        g->terms.first[t + 1] = terms;
        *logits += (terms - first) * outcome_count(g->problem, t);
        size_t here = (terms - first) * g->rows.count[t];
        *divergences = here > *divergences ? here : *divergences;
    }
    return terms;
}

/* Reference distributions at first: the outcomes' shares of all the group's mass. */
static void first_logits(Groups *g, int t, int group, double *logit)
{
    for (int o = 0; o < outcome_count(g->problem, t); o++) {
        double mass = 1e-12;
        for (int m = g->family.first[group]; m < g->family.first[group + 1]; m++) {
            int k = g->family.member[m];
            mass += g->classes.weight[k] * odds_of(g, t, o, k);
        }
        logit[o] = log(mass);
    }
}

static void list_terms(Groups *g)
{
    size_t term = 0, logit = 0;
    for (int t = 0; t < g->problem->tests.count; t++)
        for (int i = 0; i < g->family.count; i++) {
            if (!splits(g, t, i))
                continue;
            g->terms.group[term] = i;
            g->terms.logit_first[term++] = logit;
            first_logits(g, t, i, g->terms.logit.value + logit);
            logit += outcome_count(g->problem, t);
        }
}

int profits_make(Groups *g)
{
    const Problem *p = g->problem;
    int failure = 0, tests = p->tests.count;
    size_t logits = 0, divergences = 0, table = (size_t)tests * g->classes.count;
    g->rows.id = zeroes(table, sizeof(uint16_t), &failure);
    g->rows.count = zeroes(tests, sizeof(int), &failure);
    g->rows.first = zeroes(tests + 1, sizeof(size_t), &failure);
    g->terms.first = zeroes(tests + 1, sizeof(size_t), &failure);
    if (failure)
        return 0;
    count_rows(g);
    size_t terms = count_terms(g, &logits, &divergences), rows = g->rows.first[tests];
    size_t references = (size_t)g->family.count * p->outcomes.most;
    g->rows.odds = zeroes(rows * p->outcomes.most, sizeof(double), &failure);
    g->rows.negentropy = zeroes(rows, sizeof(double), &failure);
    g->terms.group = zeroes(terms, sizeof(int), &failure);
    g->terms.logit_first = zeroes(terms, sizeof(size_t), &failure);
    g->terms.divergence = zeroes(divergences, sizeof(double), &failure);
    g->terms.reference = zeroes(references, sizeof(double), &failure);
    g->profits.cost = zeroes(table, sizeof(double), &failure);
    g->profits.activity = zeroes(table, sizeof(double), &failure);
    g->profits.unit = zeroes(table, sizeof(double), &failure);
    variables_make(&g->terms.logit, logits, &failure);
    if (failure)
        return 0;
    for (int t = 0; t < tests; t++)
        read_rows(g, t);
    list_terms(g);
    return 1;
}

void profits_free(Groups *g)
{
    void *blocks[] = {g->rows.id, g->rows.count, g->rows.first, g->rows.odds, g->rows.negentropy,
                      g->terms.first, g->terms.group, g->terms.logit_first, g->terms.divergence,
                      g->terms.reference, g->profits.cost, g->profits.activity, g->profits.unit};
    for (size_t i = 0; i < sizeof blocks / sizeof *blocks; i++)
        free(blocks[i]);
    variables_free(&g->terms.logit);
}

/* ---- reduced profits ---- */

/* Bits that the test's answer tells of each row, by the reference distribution of a term. */
static void diverge(const Groups *g, int t, size_t term, double *reference, double *divergence)
{
    const Problem *p = g->problem;
    const double *logit = g->terms.logit.value + g->terms.logit_first[term];
    int outcomes = outcome_count(p, t);
    double most = logit[0], sum = 0;
    for (int o = 1; o < outcomes; o++)
        most = logit[o] > most ? logit[o] : most;
    for (int o = 0; o < outcomes; o++)
        sum += reference[o] = exp(logit[o] - most);
    double offset = log(sum) + most;
    for (int o = 0; o < outcomes; o++)
        reference[o] /= sum;
    for (int row = 0; row < g->rows.count[t]; row++) {
        size_t at = g->rows.first[t] + row;
        const double *odds = g->rows.odds + at * p->outcomes.most;
        divergence[row] = g->rows.negentropy[at];
        for (int o = 0; o < outcomes; o++)
            if (odds[o] > 0)
                divergence[row] += odds[o] * (offset - logit[o]) / LN_2;
    }
}

static void add_gradients(Groups *g, int t, size_t term, const double *reference,
                          const double *divergence)
{
    const Problem *p = g->problem;
    const uint16_t *row = g->rows.id + (size_t)t * g->classes.count;
    const double *activity = g->profits.activity + (size_t)t * g->classes.count;
    double *gradient = g->terms.logit.gradient + g->terms.logit_first[term], sum = 0;
    int group = g->terms.group[term], outcomes = outcome_count(p, t);
    for (int m = g->family.first[group]; m < g->family.first[group + 1]; m++) {
        int k = g->family.member[m];
        if (activity[k] <= 0)
            continue;
        double mass = g->prices.mass[m] * activity[k] / LN_2;
        const double *odds = g->rows.odds + (g->rows.first[t] + row[k]) * p->outcomes.most;
        g->prices.log.gradient[m] -= g->classes.weight[k] * activity[k] * divergence[row[k]];
        sum += mass;
        for (int o = 0; o < outcomes; o++)
            gradient[o] += mass * odds[o];
    }
    for (int o = 0; o < outcomes; o++)
        gradient[o] -= sum * reference[o];
}

double test_profit(Groups *g, int t, double temperature)
{
    const Problem *p = g->problem;
    const Terms *terms = &g->terms;
    const uint16_t *row = g->rows.id + (size_t)t * g->classes.count;
    const double *cost = g->profits.cost + (size_t)t * g->classes.count;
    double *unit = g->profits.unit + (size_t)t * g->classes.count;
    double *activity = g->profits.activity + (size_t)t * g->classes.count;
    double *worth = g->by_class, sum = 0;
    size_t first = terms->first[t], last = terms->first[t + 1];
    int some = 0;
    memset(worth, 0, g->classes.count * sizeof(double));
    for (size_t i = first; i < last; i++) {
        double *divergence = terms->divergence + (i - first) * g->rows.count[t];
        int group = terms->group[i];
        diverge(g, t, i, terms->reference + (i - first) * p->outcomes.most, divergence);
        for (int m = g->family.first[group]; m < g->family.first[group + 1]; m++)
            worth[g->family.member[m]] += g->prices.unit[m] * divergence[row[g->family.member[m]]];
    }
    for (int k = 0; k < g->classes.count; k++) {
        double profit = unit[k] = worth[k] - cost[k];
        sum += profit > 0 ? g->classes.weight[k] * profit : 0;
        activity[k] = profit > -COLD * temperature ? 1 / (1 + exp(-profit / temperature)) : 0;
        some |= activity[k] > 0;
    }
    for (size_t i = first; i < last && some; i++)
        add_gradients(g, t, i, terms->reference + (i - first) * p->outcomes.most,
                      terms->divergence + (i - first) * g->rows.count[t]);
    if (some && last > first)
        adam_step(&g->adam, &g->terms.logit, terms->logit_first[first],
                  terms->logit_first[last - 1] + outcome_count(p, t));
    return sum;
}

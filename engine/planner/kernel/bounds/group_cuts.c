/* Directed cuts and openings, shared out among the tests behind them, class by class.
 *
 * A class pays a cut once if it does any test behind it. Shares that sum to 1 over those tests
 * keep the sum below the truth; they move to the tests that the class does by multiplicative
 * weights (S. Arora, E. Hazan and S. Kale, Theory of Computing 8, 2012). O(tests behind cuts x
 * classes) a step. The cuts are a packing: see `DirectedCuts`. */
#include <string.h>
#include "group_dual.h"
#include "memory.h"

static const double RATE = 0.3;         /* most that a share grows by in one step */
static const double LEAST_SHARE = 1e-7; /* so that no share is lost for good */

/* Whether a test lies behind a cut that the bench has not crossed at the root. */
static int is_behind(const Groups *g, const Node *root, int cut, int t)
{
    const Problem *p = g->problem;
    if (cut < p->cuts.count)
        return p->cuts.behind[(size_t)cut * p->places.count + p->tests.place[t]]
            && !p->cuts.behind[(size_t)cut * p->places.count + root->place];
    return p->tests.need[t] & ~root->openings & (Word)1 << (cut - p->cuts.count) ? 1 : 0;
}

static int list_cuts(Groups *g, const Node *root)
{
    const Problem *p = g->problem;
    int entries = 0, cuts = p->cuts.count;
    g->cuts.count = p->bounds & BOUND_SETUP ? cuts + p->openings.count : 0;
    for (int i = 0; i < g->cuts.count; i++) {
        g->cuts.minutes[i] = i < cuts ? p->cuts.minutes[i] : p->openings.minutes[i - cuts];
        for (int t = 0; t < p->tests.count; t++)
            if (is_behind(g, root, i, t))
                g->cuts.test[entries++] = t;
        g->cuts.first[i + 1] = entries;
    }
    return entries;
}

static void set_first_shares(Groups *g)
{
    size_t classes = g->classes.count;
    for (int i = 0; i < g->cuts.count; i++) {
        int first = g->cuts.first[i], last = g->cuts.first[i + 1];
        for (size_t at = first * classes; at < last * classes; at++)
            g->cuts.share[at] = 1.0 / (last - first);
    }
}

/* The minutes of each test with its shares. */
static void set_costs(Groups *g)
{
    const Problem *p = g->problem;
    for (int t = 0; t < p->tests.count; t++)
        for (int k = 0; k < g->classes.count; k++)
            g->profits.cost[(size_t)t * g->classes.count + k] = p->tests.minutes[t];
    for (int i = 0; i < g->cuts.count; i++)
        for (int x = g->cuts.first[i]; x < g->cuts.first[i + 1]; x++) {
            double *cost = g->profits.cost + (size_t)g->cuts.test[x] * g->classes.count;
            const double *share = g->cuts.share + (size_t)x * g->classes.count;
            double minutes = g->cuts.minutes[i];
            for (int k = 0; k < g->classes.count; k++)
                cost[k] += minutes * share[k];
        }
}

int cut_shares_make(Groups *g, const Node *root)
{
    const Problem *p = g->problem;
    int failure = 0, tests = p->tests.count, cuts = p->cuts.count + p->openings.count;
    g->cuts.first = zeroes(cuts + 1, sizeof(int), &failure);
    g->cuts.minutes = zeroes(cuts, sizeof(double), &failure);
    g->cuts.test = zeroes((size_t)cuts * tests, sizeof(int), &failure);
    g->cuts.sum = zeroes(g->classes.count, sizeof(double), &failure);
    if (failure)
        return 0;
    size_t entries = list_cuts(g, root);
    g->cuts.share = zeroes(entries * g->classes.count, sizeof(double), &failure);
    if (failure)
        return 0;
    set_first_shares(g);
    set_costs(g);
    return 1;
}

void cut_shares_free(Groups *g)
{
    void *blocks[] = {g->cuts.first, g->cuts.test, g->cuts.minutes, g->cuts.share, g->cuts.sum};
    for (size_t i = 0; i < sizeof blocks / sizeof *blocks; i++)
        free(blocks[i]);
}

void cut_shares_step(Groups *g)
{
    size_t classes = g->classes.count;
    double *mean = g->by_class, *sum = g->cuts.sum;
    for (int i = 0; i < g->cuts.count; i++) {
        memset(mean, 0, classes * sizeof(double));
        memset(sum, 0, classes * sizeof(double));
        for (int x = g->cuts.first[i]; x < g->cuts.first[i + 1]; x++) {
            const double *activity = g->profits.activity + g->cuts.test[x] * classes;
            const double *share = g->cuts.share + x * classes;
            for (size_t k = 0; k < classes; k++)
                mean[k] += share[k] * activity[k];
        }
        for (int x = g->cuts.first[i]; x < g->cuts.first[i + 1]; x++) {
            const double *activity = g->profits.activity + g->cuts.test[x] * classes;
            double *share = g->cuts.share + x * classes;
            for (size_t k = 0; k < classes; k++) {
                share[k] = share[k] * (1 + RATE * (activity[k] - mean[k])) + LEAST_SHARE;
                sum[k] += share[k];
            }
        }
        for (int x = g->cuts.first[i]; x < g->cuts.first[i + 1]; x++) {
            double *share = g->cuts.share + x * classes;
            for (size_t k = 0; k < classes; k++)
                share[k] /= sum[k];
        }
    }
    set_costs(g);
}

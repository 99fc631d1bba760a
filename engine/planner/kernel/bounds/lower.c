/* The lower bound of a sub-problem: the sharpest of those switched on, never above stopping.
 *
 * Access counts openings alone; information and pairs then count tests alone, and regrets are
 * divided between them (`ACCESS_SHARE`). Costs what its parts cost. */
#include <math.h>
#include "bounds.h"

static double first_test_bound(const Frame *f)
{
    double least = INFINITY;
    for (int i = 0; i < f->tests.count; i++)
        least = f->tests.minutes[i] < least ? f->tests.minutes[i] : least;
    return f->members.mass * least;
}

static void sharpen(Frame *f, double *bound, double value, int by)
{
    if (value > *bound) {
        *bound = value;
        f->sharpest = by;
    }
}

double lower_bound(const Problem *p, PairBound *pairs, unsigned bounds, Frame *f, const Node *node,
                   double bit_price)
{
    double bound = 0, access = bounds & BOUND_ACCESS ? access_bound(p, f, node) : 0;
    f->information.regret_share = access > 0 ? 1 - ACCESS_SHARE : 1;
    f->sharpest = CUTOFF_FIRST_TEST;
    f->has_bounds = 1;
    price_tests(p, f, node);
    sharpen(f, &bound, access, CUTOFF_ACCESS);
    if (bounds & BOUND_INFORMATION) {
        f->information.bound = access + information_bound(p, f, node, bit_price);
        sharpen(f, &bound, f->information.bound, CUTOFF_INFORMATION);
    }
    if (bounds & BOUND_PAIRS)
        sharpen(f, &bound, pairs_bound(p, pairs, f, node), CUTOFF_PAIRS);
    if (access > bound / 2)
        f->sharpest = CUTOFF_ACCESS;
    if (bounds & BOUND_FIRST_TEST)
        sharpen(f, &bound, first_test_bound(f), CUTOFF_FIRST_TEST);
    return bound < f->stop.cost ? bound : f->stop.cost;
}

/* The access bound: openings that a plan can't do without, set-up minutes alone.
 *
 * Classes that no test parts without a further opening arrive together until it is made. The
 * relaxation in which tests are free and openings are not is solved exactly, by recursion over the
 * sets of openings: O(sets x openings x classes x remedies) at worst, far less where stopping is
 * cheap. */
#include <math.h>
#include "bounds.h"

enum { MOST_MEMBERS = 1024 };

typedef struct {
    const Problem *problem;
    const Node *node;
    double *stops; /* [remedies] scratch */
} Access;

static double stop_here(const Access *a, const int *id, int count, double *total)
{
    const Problem *p = a->problem;
    for (int r = 0; r < p->remedies.count; r++)
        a->stops[r] = 0;
    *total = 0;
    for (int i = 0; i < count; i++) {
        const double *regret = p->remedies.regret + (size_t)id[i] * p->remedies.count;
        double weight = a->node->weight[id[i]];
        *total += weight;
        for (int r = 0; r < p->remedies.count; r++)
            a->stops[r] += weight * regret[r];
    }
    double best = a->stops[0];
    for (int r = 1; r < p->remedies.count; r++)
        best = a->stops[r] < best ? a->stops[r] : best;
    return best;
}

/* Bring members of the first one's cell together in front; returns how many they are. */
static int gather(const int *cell, int *id, int count)
{
    int same = 1;
    for (int i = 1; i < count; i++)
        if (cell[id[i]] == cell[id[0]]) {
            int swap = id[i];
            id[i] = id[same];
            id[same++] = swap;
        }
    return same;
}

/* Each cell pays its best opening and goes on, or stops. */
static double opening_minutes(const Access *a, const int *id, int count, int at)
{
    const Problem *p = a->problem;
    const int *cell = p->access.cell + (size_t)at * p->classes.count;
    int left[MOST_MEMBERS], from = 0;
    double sum = 0, total;
    for (int i = 0; i < count; i++)
        left[i] = id[i];
    while (from < count) {
        int *here = left + from, size = gather(cell, here, count - from);
        from += size;
        if (size < 2)
            continue;
        double best = ACCESS_SHARE * stop_here(a, here, size, &total);
        for (int o = 0; o < p->openings.count && best > 0; o++) {
            int next = p->access.next[(size_t)at * p->openings.count + o];
            double cost = total * p->openings.minutes[o];
            if (next < 0 || cost >= best)
                continue;
            cost += opening_minutes(a, here, size, next);
            best = cost < best ? cost : best;
        }
        sum += best;
    }
    return sum;
}

double access_bound(const Problem *p, const Frame *f, const Node *node)
{
    Access a = {p, node, f->scratch.values};
    if (f->members.count > MOST_MEMBERS)
        return 0;
    for (int at = 0; at < p->access.count; at++)
        if (p->access.openings[at] == (node->openings & ~SHORT_FOUND & ~*p->openings.leads))
            return opening_minutes(&a, f->members.id, f->members.count, at);
    return 0;
}

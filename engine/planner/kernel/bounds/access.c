/* The openings that a plan can't do without: a bound on set-up minutes alone. */
#include <math.h>
#include "kernel.h"

enum { MOST_MEMBERS = 1024 };

typedef struct {
    const Problem *p;
    const Node *node;
    double *stops; /* [remedies] scratch */
} Access;

static double stop_here(const Access *a, const int *member, int many, double *total)
{
    const Problem *p = a->p;
    for (int r = 0; r < p->remedies; r++)
        a->stops[r] = 0;
    *total = 0;
    for (int i = 0; i < many; i++) {
        const double *regret = p->regret + (size_t)member[i] * p->remedies;
        double weight = a->node->weight[member[i]];
        *total += weight;
        for (int r = 0; r < p->remedies; r++)
            a->stops[r] += weight * regret[r];
    }
    double best = a->stops[0];
    for (int r = 1; r < p->remedies; r++)
        best = a->stops[r] < best ? a->stops[r] : best;
    return best;
}

/* Bring members of one cell together; the first `return` of them are one cell. */
static int gather(const int *cell, int *member, int many)
{
    int same = 1;
    for (int i = 1; i < many; i++)
        if (cell[member[i]] == cell[member[0]]) {
            int swap = member[i];
            member[i] = member[same];
            member[same++] = swap;
        }
    return same;
}

static double unavoidable(const Access *a, const int *members, int many, int at)
{
    const Problem *p = a->p;
    const int *cell = p->cell + (size_t)at * p->classes;
    int left[MOST_MEMBERS], from = 0;
    double sum = 0, total;
    for (int i = 0; i < many; i++)
        left[i] = members[i];
    while (from < many) {
        int *here = left + from, size = gather(cell, here, many - from);
        from += size;
        if (size < 2)
            continue;
        double best = ACCESS_SHARE * stop_here(a, here, size, &total);
        for (int o = 0; o < p->openings && best > 0; o++) {
            int next = p->beyond[(size_t)at * p->openings + o];
            double cost = total * p->opening[o];
            if (next < 0 || cost >= best)
                continue;
            cost += unavoidable(a, here, size, next);
            best = cost < best ? cost : best;
        }
        sum += best;
    }
    return sum;
}

double access_bound(const Problem *p, const Frame *f, const Node *node)
{
    Access a = {p, node, f->room};
    if (f->members > MOST_MEMBERS)
        return 0;
    for (int at = 0; at < p->accesses; at++)
        if (p->access[at] == (node->opened & ~SHORT_FOUND & ~*p->leads))
            return unavoidable(&a, f->member, f->members, at);
    return 0;
}

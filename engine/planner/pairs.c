/* Every two classes are parted by some test, or share a leaf: a bound from pairs. */
#include <math.h>
#include "kernel.h"

/* Minutes that a test charges for each unit of pair mass it parts, at most as here. */
static double charge(const Problem *p, const Frame *f, int i)
{
    const double *mass = f->mass + p->first[f->test[i]];
    int outcomes = p->first[f->test[i] + 1] - p->first[f->test[i]];
    double squares = 0;
    for (int o = 0; o < outcomes; o++)
        squares += mass[o] * mass[o];
    double parted = (f->total * f->total - squares) / 2;
    return parted > 0 ? f->price[i] * f->total / parted : INFINITY;
}

static void sort_by_charge(const Problem *p, Frame *f)
{
    for (int i = 0; i < f->tests; i++) {
        double here = charge(p, f, i);
        int at = i;
        for (; at > 0 && f->guess[at - 1] > here; at--) {
            f->guess[at] = f->guess[at - 1];
            f->order[at] = f->order[at - 1];
        }
        f->guess[at] = here;
        f->order[at] = f->test[i];
    }
}

static double pair_cost(const Problem *p, const Frame *f, int j, int k, double confused)
{
    double together = 1, sum = 0;
    for (int at = 0; at < f->tests && f->guess[at] < confused; at++) {
        int t = f->order[at];
        const uint16_t *kind = p->kind + (size_t)t * p->classes;
        if (kind[j] == kind[k] && p->slot[t] < 0)
            continue;
        double parted = p->apart[p->apart_at[t] + kind[j] * p->kinds[t] + kind[k]];
        sum += together * parted * f->guess[at];
        together *= 1 - parted;
        if (together <= 0)
            return sum;
    }
    return sum + together * confused;
}

/* Uses `guess` and `order` as scratch. `share` is the part of the regrets that may be counted. */
double pairs_bound(const Problem *p, Frame *f, const Node *node, double share)
{
    double sum = 0;
    sort_by_charge(p, f);
    for (int a = 1; a < f->members; a++) {
        int j = f->member[a];
        const double *confusion = p->confusion + (size_t)j * p->classes;
        double row = 0;
        for (int b = 0; b < a; b++) {
            int k = f->member[b];
            if (confusion[k] > 0)
                row += node->weight[k]
                    * pair_cost(p, f, j, k, share * confusion[k] / f->total);
        }
        sum += node->weight[j] * row;
    }
    return sum;
}

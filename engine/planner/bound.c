/* Bounds of one sub-problem. Their proofs stand in the module page, `engine/planner/__init__.py`. */
#include <math.h>
#include "kernel.h"

static const double LOG2_E = 1.4426950408889634;

/* Cost of stopping here with the best remedy. */
double stop_cost(const Problem *p, const Frame *f, const Node *node, int *remedy)
{
    double best = INFINITY;
    for (int r = 0; r < p->remedies; r++) {
        const double *regret = p->regret + (size_t)r * p->classes;
        double cost = 0;
        for (int i = 0; i < f->members; i++)
            cost += node->weight[f->member[i]] * regret[f->member[i]];
        if (cost < best) {
            best = cost;
            if (remedy)
                *remedy = r;
        }
    }
    return best;
}

/* Minutes of opening, supply and rig before `test` can be done. */
double setup_minutes(const Problem *p, const Node *node, int test)
{
    Word missing = p->need[test] & ~node->opened;
    size_t change = (size_t)node->place * p->places + p->place[test];
    if (!missing)
        return p->direct[change];
    double minutes = p->hands_in[change];
    for (; missing; missing &= missing - 1)
        minutes += p->opening[__builtin_ctzll(missing)];
    return minutes;
}

/* Least cost of naming the remedy cluster at `price` minutes a bit, confusion allowed. */
static double demand_level(const Problem *p, const Frame *f, const Node *node, double price,
                           int level)
{
    const int *cluster = p->cluster + (size_t)level * p->classes;
    const double *foreign = p->foreign + (size_t)level * p->classes;
    double *group = f->room, sum = 0;
    for (int i = 0; i < f->members; i++)
        group[cluster[f->member[i]]] = 0;
    for (int i = 0; i < f->members; i++)
        group[cluster[f->member[i]]] += node->weight[f->member[i]];
    double log_total = log2(f->total);
    for (int i = 0; i < f->members; i++) {
        int k = f->member[i];
        double bits = log_total - log2(group[cluster[k]]);
        double told = price * bits, confused = foreign[k] - price * LOG2_E;
        sum += node->weight[k] * (told < confused ? told : confused);
    }
    return sum;
}

double demand(const Problem *p, const Frame *f, const Node *node, double price)
{
    double best = 0;
    for (int level = 0; level < p->levels; level++) {
        double value = demand_level(p, f, node, price, level);
        if (value > best)
            best = value;
    }
    return best;
}

/* Most that a test of several outcomes can earn; `mass` is sorted, largest first. */
static double profit_sorted(const double *mass, int outcomes, double total, double minutes,
                            double price)
{
    double z = exp2(-minutes / price);
    if (outcomes * z <= 1)
        return 0;
    double rest = total, done = total;
    int open = 0;
    while (open < outcomes && mass[open] > z * done) {
        rest -= mass[open++];
        if (open * z >= 1)
            return 0;
        done = rest / (1 - open * z);
    }
    if (open == outcomes || rest <= 0)
        return 0;
    double profit = 0;
    for (int i = open; i < outcomes; i++)
        if (mass[i] > 0)
            profit += mass[i] * (price * log2(done / mass[i]) - minutes);
    return profit > 0 ? profit : 0;
}

enum { WIDEST = 64 };

static double profit(const double *mass, int outcomes, double total, double minutes, double price)
{
    double sorted[WIDEST];
    int kept = 0;
    if (price <= 0)
        return 0;
    for (int o = 0; o < outcomes; o++) {
        if (mass[o] <= 0)
            continue;
        int at = kept++;
        for (; at > 0 && sorted[at - 1] < mass[o]; at--)
            sorted[at] = sorted[at - 1];
        sorted[at] = mass[o];
    }
    return kept < 2 ? 0 : profit_sorted(sorted, kept, total, minutes, price);
}

/* What the tests here could earn at that price of a bit: subtracted from the demand. */
static double supply(const Problem *p, const Frame *f, double price)
{
    double sum = 0;
    for (int i = 0; i < f->tests; i++) {
        int t = f->test[i];
        sum += profit(f->mass + p->first[t], p->first[t + 1] - p->first[t], f->total,
                      f->price[i], price);
    }
    return sum;
}

/* Share each opening and each change of place among the tests here that need it. */
static void share_setup(const Problem *p, Frame *f, const Node *node)
{
    int *at_place = f->tally, *at_opening = f->tally + p->places;
    for (int i = 0; i < p->places + 64; i++)
        f->tally[i] = 0;
    for (int i = 0; i < f->tests; i++) {
        int t = f->test[i];
        at_place[p->place[t]]++;
        for (Word w = p->need[t] & ~node->opened; w; w &= w - 1)
            at_opening[__builtin_ctzll(w)]++;
    }
    for (int i = 0; i < f->tests; i++) {
        int t = f->test[i], place = p->place[t];
        if (place != node->place)
            f->price[i] += p->entry[place] / at_place[place];
        for (Word w = p->need[t] & ~node->opened; w; w &= w - 1) {
            int o = __builtin_ctzll(w);
            f->price[i] += p->opening[o] / at_opening[o];
        }
    }
}

static double information(const Problem *p, Frame *f, const Node *node, double *price)
{
    double here = *price, best = demand(p, f, node, here) - supply(p, f, here);
    for (int way = 0; way < 2; way++) {
        double factor = way ? 1 / 1.3 : 1.3;
        int moved = 0;
        for (int step = 0; step < 12; step++) {
            double next = here * factor;
            double value = demand(p, f, node, next) - supply(p, f, next);
            if (value <= best)
                break;
            best = value;
            here = next;
            moved = 1;
        }
        if (moved)
            break;
    }
    *price = here;
    return best;
}

/* A lower bound of the cost from here; `price` is a guess of the price of a bit, improved. */
double lower_bound(const Problem *p, Frame *f, const Node *node, double *price)
{
    double bound = 0, stop = stop_cost(p, f, node, NULL);
    for (int i = 0; i < f->tests; i++)
        f->price[i] = p->minutes[f->test[i]];
    if (p->bounds & BOUND_SETUP)
        share_setup(p, f, node);
    if (p->bounds & BOUND_INFORMATION) {
        double value = information(p, f, node, price);
        if (value > bound)
            bound = value;
    }
    if (p->bounds & BOUND_FIRST_TEST) {
        double least = INFINITY;
        for (int i = 0; i < f->tests; i++)
            if (f->cost[i] < least)
                least = f->cost[i];
        if (f->total * least > bound)
            bound = f->total * least;
    }
    return bound < stop ? bound : stop;
}

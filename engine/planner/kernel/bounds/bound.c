/* Bounds of one sub-problem. Their proofs stand in the module page, `engine/planner/__init__.py`. */
#include <math.h>
#include "kernel.h"

static const double LOG2_E = 1.4426950408889634;

/* Cost of stopping here with the best remedy of those that may be named; one always may. */
double stop_cost(const Problem *p, const Node *node, const Frame *f, double *room, int *remedy)
{
    int many = p->remedies, best = -1;
    for (int r = 0; r < many; r++)
        room[r] = 0;
    for (int i = 0; i < f->members; i++) {
        const double *regret = p->regret + (size_t)f->member[i] * many;
        double weight = node->weight[f->member[i]];
        for (int r = 0; r < many; r++)
            room[r] += weight * regret[r];
    }
    for (int r = 0; r < many; r++)
        if (!(p->wants[r] & ~node->noted) && (best < 0 || room[r] < room[best]))
            best = r;
    *remedy = best;
    return room[best];
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

/* ---- what the tests can sell ---- */

/* Share each opening and each change of place among the tests here that need it. */
static void share_setup(const Problem *p, Frame *f, const Node *node)
{
    int *at_place = f->tally, *at_opening = f->tally + p->places;
    int shared = !(p->bounds & BOUND_ACCESS);
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
            if (shared || *p->leads >> o & 1)
                f->price[i] += p->opening[o] / at_opening[o];
        }
    }
}

/* Bits told by the whole test, and between which prices of a bit it sells to a part of the mass. */
static void measure(const Problem *p, Frame *f, int i)
{
    int t = f->test[i], outcomes = p->first[t + 1] - p->first[t], kinds = 0;
    const double *mass = f->mass + p->first[t];
    double most = 0, info = 0;
    for (int o = 0; o < outcomes; o++) {
        if (mass[o] <= 0)
            continue;
        kinds++;
        most = mass[o] > most ? mass[o] : most;
        info += mass[o] * log2(f->total / mass[o]);
    }
    f->info[i] = info;
    f->none[i] = kinds > 1 ? f->price[i] / log2(kinds) : INFINITY;
    f->full[i] = most < f->total ? f->price[i] / log2(f->total / most) : INFINITY;
}

void price_tests(const Problem *p, Frame *f, const Node *node)
{
    for (int i = 0; i < f->tests; i++)
        f->price[i] = p->minutes[f->test[i]];
    if (p->bounds & BOUND_SETUP)
        share_setup(p, f, node);
    for (int i = 0; i < f->tests; i++)
        measure(p, f, i);
}

enum { WIDEST = 256 };

static int sort_masses(const double *mass, int outcomes, double *sorted)
{
    int kept = 0;
    for (int o = 0; o < outcomes; o++) {
        if (mass[o] <= 0)
            continue;
        int at = kept++;
        for (; at > 0 && sorted[at - 1] < mass[o]; at--)
            sorted[at] = sorted[at - 1];
        sorted[at] = mass[o];
    }
    return kept;
}

/* Most that a test can earn by selling to a part of the mass at `price` a bit. */
static double part_profit(const double *mass, int outcomes, double total, double minutes,
                          double price)
{
    double sorted[WIDEST], z = exp2(-minutes / price), rest = total, done = total, profit = 0;
    int kinds = sort_masses(mass, outcomes, sorted), wide = 0;
    while (wide < kinds && sorted[wide] > z * done) {
        rest -= sorted[wide++];
        if (wide * z >= 1)
            return 0;
        done = rest / (1 - wide * z);
    }
    for (int i = wide; i < kinds; i++)
        profit += sorted[i] * (price * log2(done / sorted[i]) - minutes);
    return profit > 0 ? profit : 0;
}

static double profit(const Problem *p, const Frame *f, int i, double price)
{
    if (price <= f->none[i])
        return 0;
    if (price >= f->full[i])
        return price * f->info[i] - f->price[i] * f->total;
    int t = f->test[i];
    return part_profit(f->mass + p->first[t], p->first[t + 1] - p->first[t], f->total,
                       f->price[i], price);
}

static double supply(const Problem *p, Frame *f, double price)
{
    double sum = 0;
    for (int i = 0; i < f->tests; i++)
        sum += profit(p, f, i, price);
    return sum;
}

/* ---- what must be bought ---- */

static void count_bits(const Problem *p, Frame *f, const Node *node, int level)
{
    const int *cluster = p->cluster + (size_t)level * p->classes;
    double *bits = f->bits + (size_t)level * p->classes, *group = f->room;
    for (int i = 0; i < f->members; i++)
        group[cluster[f->member[i]]] = 0;
    for (int i = 0; i < f->members; i++)
        group[cluster[f->member[i]]] += node->weight[f->member[i]];
    for (int i = 0; i < f->members; i++)
        bits[i] = log2(f->total / group[cluster[f->member[i]]]);
}

/* Least cost of naming the remedy clusters at `price` minutes a bit, confusion allowed. */
static double demand(const Problem *p, const Frame *f, const Node *node, double price)
{
    double best = 0;
    for (int level = 0; level < p->levels; level++) {
        const double *foreign = p->foreign + (size_t)level * p->classes;
        const double *bits = f->bits + (size_t)level * p->classes;
        double sum = 0;
        for (int i = 0; i < f->members; i++) {
            double told = price * bits[i], confused = f->share * foreign[f->member[i]] - price * LOG2_E;
            sum += node->weight[f->member[i]] * (told < confused ? told : confused);
        }
        best = sum > best ? sum : best;
    }
    return best;
}

/* ---- the bounds ---- */

static double information(const Problem *p, Frame *f, const Node *node, double here)
{
    for (int level = 0; level < p->levels; level++)
        count_bits(p, f, node, level);
    double best = demand(p, f, node, here) - supply(p, f, here);
    for (double factor = 1.25; factor > 0.5; factor -= 0.45) {
        int moved = 0;
        for (int step = 0; step < 16; step++) {
            double next = here * factor, value = demand(p, f, node, next) - supply(p, f, next);
            if (value <= best)
                break;
            best = value;
            here = next;
            moved = 1;
        }
        if (moved)
            break;
    }
    for (int i = 0; i < f->tests; i++)
        f->profit[i] = profit(p, f, i, here);
    f->bit_price = here;
    return best;
}

double first_test_bound(const Frame *f)
{
    double least = INFINITY;
    for (int i = 0; i < f->tests; i++)
        least = f->cost[i] < least ? f->cost[i] : least;
    return f->total * least;
}

static void sharpen(Frame *f, double *bound, double value, int by)
{
    if (value > *bound) {
        *bound = value;
        f->sharpest = by;
    }
}

/* A lower bound of the cost from here; `price` is a first guess at the price of a bit. */
double lower_bound(const Problem *p, Frame *f, const Node *node, double price)
{
    double bound = 0, access = p->bounds & BOUND_ACCESS ? access_bound(p, f, node) : 0;
    f->share = access > 0 ? 1 - ACCESS_SHARE : 1;
    f->sharpest = CUT_FIRST_TEST;
    f->bounded = 1;
    price_tests(p, f, node);
    sharpen(f, &bound, access, CUT_ACCESS);
    if (p->bounds & BOUND_INFORMATION) {
        f->bound = access + information(p, f, node, price);
        sharpen(f, &bound, f->bound, CUT_INFORMATION);
    }
    if (p->bounds & BOUND_PAIRS)
        sharpen(f, &bound, pairs_bound(p, f, node), CUT_PAIRS);
    if (access > bound / 2)
        f->sharpest = CUT_ACCESS;
    if (p->bounds & BOUND_FIRST_TEST)
        sharpen(f, &bound, first_test_bound(f), CUT_FIRST_TEST);
    return bound < f->stop ? bound : f->stop;
}

/* The information bound: a Lagrange multiplier on the bits that a plan must buy.
 *
 * A plan that names remedy clusters buys I(cluster; leaf) bits in all. With the multiplier x, the
 * dual price of a bit in minutes, the relaxation falls apart by tests: the least cost of naming the
 * clusters at x a bit, less what each test can earn at most (its reduced profit, concave in the
 * mass that does it). Any x > 0 gives a bound; at each level of clusters the dual function is
 * concave in x, and a pattern search climbs it, by factors of 1.25 up or 0.8 down, 16 at most.
 * O(tests x outcomes + levels x classes) for a step.
 *
 * Lagrangian relaxation: M. L. Fisher, Management Science 27(1), 1981. Pattern search: R. Hooke
 * and T. A. Jeeves, JACM 8(2), 1961. */
#include <math.h>
#include "bounds.h"

static const double LOG2_E = 1.4426950408889634;

enum { WIDEST = 256 };

/* ---- what the tests can earn ---- */

/* Share each opening and each change of place among the tests here that need it. */
static void share_setup(const Problem *p, Frame *f, const Node *node)
{
    int *at_place = f->scratch.counts, *at_opening = f->scratch.counts + p->places.count;
    int with_openings = !(p->bounds & BOUND_ACCESS);
    for (int i = 0; i < p->places.count + 64; i++)
        f->scratch.counts[i] = 0;
    for (int i = 0; i < f->tests.count; i++) {
        int t = f->tests.id[i];
        at_place[p->tests.place[t]]++;
        for (Word w = p->tests.need[t] & ~node->openings; w; w &= w - 1)
            at_opening[__builtin_ctzll(w)]++;
    }
    for (int i = 0; i < f->tests.count; i++) {
        int t = f->tests.id[i], place = p->tests.place[t];
        if (place != node->place)
            f->information.minutes[i] += p->places.entry[place] / at_place[place];
        for (Word w = p->tests.need[t] & ~node->openings; w; w &= w - 1) {
            int o = __builtin_ctzll(w);
            if (with_openings || *p->openings.leads >> o & 1)
                f->information.minutes[i] += p->openings.minutes[o] / at_opening[o];
        }
    }
}

/* Information gain of the whole test, and between which prices of a bit its reduced profit is
 * greatest on a part of the mass. */
static void measure(const Problem *p, Frame *f, int i)
{
    int t = f->tests.id[i], outcomes = outcome_count(p, t), positive = 0;
    const double *mass = f->tests.mass + p->outcomes.first[t];
    double most = 0, gain = 0;
    for (int o = 0; o < outcomes; o++) {
        if (mass[o] <= 0)
            continue;
        positive++;
        most = mass[o] > most ? mass[o] : most;
        gain += mass[o] * log2(f->members.mass / mass[o]);
    }
    f->information.gain[i] = gain;
    f->information.zero_price[i] = positive > 1
        ? f->information.minutes[i] / log2(positive) : INFINITY;
    f->information.full_price[i] = most < f->members.mass
        ? f->information.minutes[i] / log2(f->members.mass / most) : INFINITY;
}

void price_tests(const Problem *p, Frame *f, const Node *node)
{
    for (int i = 0; i < f->tests.count; i++)
        f->information.minutes[i] = p->tests.minutes[f->tests.id[i]];
    if (p->bounds & BOUND_SETUP)
        share_setup(p, f, node);
    for (int i = 0; i < f->tests.count; i++)
        measure(p, f, i);
}

static int sort_masses(const double *mass, int outcomes, double *descending)
{
    int count = 0;
    for (int o = 0; o < outcomes; o++) {
        if (mass[o] <= 0)
            continue;
        int at = count++;
        for (; at > 0 && descending[at - 1] < mass[o]; at--)
            descending[at] = descending[at - 1];
        descending[at] = mass[o];
    }
    return count;
}

/* Greatest reduced profit of a test on any part of the mass at `price` a bit: outcomes of more than
 * a share z of what is taken are cut back to it (as water fills a vessel). */
static double part_profit(const double *mass, int outcomes, double total, double minutes,
                          double price)
{
    double descending[WIDEST], z = exp2(-minutes / price), rest = total, part = total, profit = 0;
    int positive = sort_masses(mass, outcomes, descending), wide = 0;
    while (wide < positive && descending[wide] > z * part) {
        rest -= descending[wide++];
        if (wide * z >= 1)
            return 0;
        part = rest / (1 - wide * z);
    }
    for (int i = wide; i < positive; i++)
        profit += descending[i] * (price * log2(part / descending[i]) - minutes);
    return profit > 0 ? profit : 0;
}

static double reduced_profit(const Problem *p, const Frame *f, int i, double price)
{
    if (price <= f->information.zero_price[i])
        return 0;
    if (price >= f->information.full_price[i])
        return price * f->information.gain[i] - f->information.minutes[i] * f->members.mass;
    int t = f->tests.id[i];
    return part_profit(f->tests.mass + p->outcomes.first[t], outcome_count(p, t), f->members.mass,
                       f->information.minutes[i], price);
}

/* Of all tests at `price` a bit. */
static double reduced_profits(const Problem *p, Frame *f, double price)
{
    double sum = 0;
    for (int i = 0; i < f->tests.count; i++)
        sum += reduced_profit(p, f, i, price);
    return sum;
}

/* ---- what must be bought ---- */

static void count_bits(const Problem *p, Frame *f, const Node *node, int level)
{
    const int *cluster = p->clusters.id + (size_t)level * p->classes.count;
    double *bits = f->information.bits + (size_t)level * p->classes.count;
    double *mass = f->scratch.values;
    for (int i = 0; i < f->members.count; i++)
        mass[cluster[f->members.id[i]]] = 0;
    for (int i = 0; i < f->members.count; i++)
        mass[cluster[f->members.id[i]]] += node->weight[f->members.id[i]];
    for (int i = 0; i < f->members.count; i++)
        bits[i] = log2(f->members.mass / mass[cluster[f->members.id[i]]]);
}

/* Least cost of naming the remedy clusters at `price` minutes a bit, confusion allowed. */
static double naming_cost(const Problem *p, const Frame *f, const Node *node, double price)
{
    double best = 0;
    for (int level = 0; level < p->clusters.levels; level++) {
        const double *outside = p->clusters.outside_regret + (size_t)level * p->classes.count;
        const double *bits = f->information.bits + (size_t)level * p->classes.count;
        double sum = 0;
        for (int i = 0; i < f->members.count; i++) {
            double naming = price * bits[i];
            double confusion = f->information.regret_share * outside[f->members.id[i]]
                - price * LOG2_E;
            sum += node->weight[f->members.id[i]] * (naming < confusion ? naming : confusion);
        }
        best = sum > best ? sum : best;
    }
    return best;
}

/* ---- the bound ---- */

double information_bound(const Problem *p, Frame *f, const Node *node, double price)
{
    for (int level = 0; level < p->clusters.levels; level++)
        count_bits(p, f, node, level);
    double best = naming_cost(p, f, node, price) - reduced_profits(p, f, price);
    for (double factor = 1.25; factor > 0.5; factor -= 0.45) {
        int moves = 0;
        for (int step = 0; step < 16; step++) {
            double next = price * factor, value;
            value = naming_cost(p, f, node, next) - reduced_profits(p, f, next);
            if (value <= best)
                break;
            best = value;
            price = next;
            moves++;
        }
        if (moves)
            break;
    }
    for (int i = 0; i < f->tests.count; i++)
        f->information.reduced_profit[i] = reduced_profit(p, f, i, price);
    f->information.bit_price = price;
    return best;
}

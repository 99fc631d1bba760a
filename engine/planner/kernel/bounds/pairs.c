/* The pair bound: a feasible dual solution of a linear relaxation, found by dual ascent.
 *
 * Relaxation: every two classes are parted by some test on the way of both, or share a leaf. Its
 * dual has a charge for each pair. A class has slack for each test, each place and each opening:
 * what its own way pays for them if it meets them, its weight times the minutes. The constraints of
 * a test say that a pair charges no more than what both have of slack for it, the way there
 * included. A pair also speaks for an equal part of both weights, and never charges more than that
 * part loses by sharing a leaf. What all pairs charge is a lower bound; the slack that a test is
 * left with is its reduced cost, added where the test is certain to be done.
 *
 * Charges are raised once, one pair after another in a fixed order, each as far as it goes.
 * Before the pairs, each class is charged alone for what must be shown before its remedy is named:
 * it does one of the tests that show it, or loses what it forfeits by another remedy.
 *
 * O(pairs of members x tests here) at worst; pairs whose slack is gone cost a look.
 *
 * Dual ascent for such relaxations: D. Erlenkotter, Operations Research 26(6), 1978. */
#include <math.h>
#include <string.h>
#include "bounds.h"

/* Of each member, by its place in the frame. */
typedef struct {
    double *test;     /* [members][tests] */
    double *place;    /* [members][places] */
    double *opening;  /* [members][openings] */
    double *weight;   /* [members] weight that no pair speaks for yet */
} Slack;

typedef struct {
    const Problem *problem;
    const PairTables *tables;
    const Frame *frame;
    const Node *node;
    Slack slack;
    PairScratch scratch;
    int routes;       /* in `scratch.route_list`: those to tests that part the pair at hand */
} Dual;

/* ---- slack ---- */

static Slack slack_rows(const Problem *p, double *room)
{
    Slack s = {.test = room};
    s.place = s.test + (size_t)p->classes.count * p->tests.count;
    s.opening = s.place + (size_t)p->classes.count * p->places.count;
    s.weight = s.opening + (size_t)p->classes.count * p->openings.count;
    return s;
}

static void fill_slack(const Dual *d)
{
    const Problem *p = d->problem;
    const Frame *f = d->frame;
    int set_up = p->bounds & BOUND_SETUP ? 1 : 0;
    for (int a = 0; a < f->members.count; a++) {
        double weight = d->node->weight[f->members.id[a]];
        double *test = d->slack.test + (size_t)a * p->tests.count;
        double *place = d->slack.place + (size_t)a * p->places.count;
        double *opening = d->slack.opening + (size_t)a * p->openings.count;
        d->slack.weight[a] = weight;
        for (int i = 0; i < f->tests.count; i++)
            test[f->tests.id[i]] = weight * p->tests.minutes[f->tests.id[i]];
        for (int at = 0; at < p->places.count; at++)
            place[at] = set_up && at != d->node->place ? weight * p->places.entry[at] : 0;
        for (int o = 0; o < p->openings.count; o++)
            opening[o] = set_up && !(d->node->openings >> o & 1)
                ? weight * p->openings.minutes[o] : 0;
    }
}

/* Draw `amount` from the slack of two members, from the larger first, until both have the same. */
static void draw(double *one, double *other, double amount)
{
    double *more = *one > *other ? one : other, *less = more == one ? other : one;
    double level = *more - *less < amount ? *more - *less : amount, half = (amount - level) / 2;
    *more = *more - level - half > 0 ? *more - level - half : 0;
    *less = *less - half > 0 ? *less - half : 0;
}

/* Draw up to `amount` from the slack of one member; returns what it had. */
static double draw_alone(double *slack, double amount)
{
    double part = *slack < amount ? *slack : amount > 0 ? amount : 0;
    *slack -= part;
    return part;
}

static double parting_odds(const Problem *p, int t, int j, int k)
{
    return p->rows.slot[t] < 0 ? 1 : separation(p, t, j, k);
}

/* Openings of a need that are still to be made. */
static Word missing(const Dual *d, Word need)
{
    return need & ~d->node->openings;
}

/* ---- charging a pair ---- */

static double route_slack(const Dual *d, int one, int other, int route)
{
    const Problem *p = d->problem;
    int at = d->tables->routes.place[route];
    double sum = d->slack.place[(size_t)one * p->places.count + at]
        + d->slack.place[(size_t)other * p->places.count + at];
    for (Word w = missing(d, d->tables->routes.need[route]); w; w &= w - 1) {
        int o = __builtin_ctzll(w);
        sum += d->slack.opening[(size_t)one * p->openings.count + o]
            + d->slack.opening[(size_t)other * p->openings.count + o];
    }
    return sum;
}

static const Word *separators_of(const Dual *d, int one, int other)
{
    int j = d->frame->members.id[one], k = d->frame->members.id[other];
    return d->tables->separators + ((size_t)j * d->problem->classes.count + k) * d->tables->words;
}

/* The least slack of both members on each route, tests only; lists the routes. Returns 0 as soon as
 * a test that parts them has no slack. */
static int find_routes(Dual *d, int one, int other)
{
    const Problem *p = d->problem;
    int j = d->frame->members.id[one], k = d->frame->members.id[other];
    const Word *separators = separators_of(d, one, other);
    const double *mine = d->slack.test + (size_t)one * p->tests.count;
    const double *its = d->slack.test + (size_t)other * p->tests.count;
    double *least = d->scratch.route_least;
    d->routes = 0;
    for (int w = 0; w < d->tables->words; w++)
        for (Word bits = separators[w] & d->frame->tests.set[w]; bits; bits &= bits - 1) {
            int t = w * 64 + __builtin_ctzll(bits), route = d->tables->routes.of_test[t];
            double slack = mine[t] + its[t];
            if (slack <= 0 && route_slack(d, one, other, route) <= 0)
                return 0;
            slack /= parting_odds(p, t, j, k);
            if (least[route] < 0) {
                least[route] = slack;
                d->scratch.route_list[d->routes++] = route;
            } else if (slack < least[route]) {
                least[route] = slack;
            }
        }
    return 1;
}

/* What was drawn for the pair at hand from a route's place and openings. */
static double less_draws(const Dual *d, double amount, int place, Word openings)
{
    amount -= d->scratch.draws[place];
    for (Word w = openings; w; w &= w - 1)
        amount -= d->scratch.draws[d->problem->places.count + __builtin_ctzll(w)];
    return amount;
}

/* Draw what a route's tests lack from the openings, then from the place; draws serve all routes. */
static void pay_route(Dual *d, int one, int other, int route, double lack)
{
    const Problem *p = d->problem;
    int at = d->tables->routes.place[route];
    Word openings = missing(d, d->tables->routes.need[route]);
    lack = less_draws(d, lack, at, openings);
    for (Word w = openings; w && lack > 0; w &= w - 1) {
        int o = __builtin_ctzll(w);
        double *x = d->slack.opening + (size_t)one * p->openings.count + o;
        double *y = d->slack.opening + (size_t)other * p->openings.count + o;
        double amount = *x + *y < lack ? *x + *y : lack;
        draw(x, y, amount);
        d->scratch.draws[p->places.count + o] += amount;
        lack -= amount;
    }
    if (lack > 0) {
        draw(d->slack.place + (size_t)one * p->places.count + at,
             d->slack.place + (size_t)other * p->places.count + at, lack);
        d->scratch.draws[at] += lack;
    }
}

/* What each route's tests still owe once the way is paid; a draw serves every route behind it. */
static void set_debts(Dual *d, double charge)
{
    const Routes *routes = &d->tables->routes;
    for (int m = 0; m < d->routes; m++) {
        int route = d->scratch.route_list[m];
        double debt = less_draws(d, charge, routes->place[route], missing(d, routes->need[route]));
        d->scratch.route_least[route] = debt > 0 ? debt : 0;
    }
}

static void pay_tests(Dual *d, int one, int other)
{
    const Problem *p = d->problem;
    int j = d->frame->members.id[one], k = d->frame->members.id[other];
    const Word *separators = separators_of(d, one, other);
    double *mine = d->slack.test + (size_t)one * p->tests.count;
    double *its = d->slack.test + (size_t)other * p->tests.count;
    for (int w = 0; w < d->tables->words; w++)
        for (Word bits = separators[w] & d->frame->tests.set[w]; bits; bits &= bits - 1) {
            int t = w * 64 + __builtin_ctzll(bits);
            double debt = d->scratch.route_least[d->tables->routes.of_test[t]];
            draw(mine + t, its + t, debt * parting_odds(p, t, j, k));
        }
}

static void forget_draws(Dual *d)
{
    const Problem *p = d->problem;
    memset(d->scratch.draws, 0, (p->places.count + p->openings.count) * sizeof(double));
}

/* Raise the pair's charge as far as it goes, `most` at most; returns it. */
static double charge_pair(Dual *d, int one, int other, double most)
{
    double charge = find_routes(d, one, other) ? most : 0;
    double *least = d->scratch.route_least;
    const int *list = d->scratch.route_list;
    for (int m = 0; m < d->routes && charge > 0; m++) {
        double here = least[list[m]] + route_slack(d, one, other, list[m]);
        charge = here < charge ? here : charge;
    }
    if (charge > 0) {
        int any = 0;
        for (int m = 0; m < d->routes; m++)
            if (charge > least[list[m]]) {
                pay_route(d, one, other, list[m], charge - least[list[m]]);
                any = 1;
            }
        set_debts(d, charge);
        pay_tests(d, one, other);
        if (any)
            forget_draws(d);
    }
    for (int m = 0; m < d->routes; m++)
        least[list[m]] = -1;
    return charge > 0 ? charge : 0;
}

/* All pairs of the members, those with most at stake first. */
static double charge_pairs(Dual *d)
{
    const Problem *p = d->problem;
    const Frame *f = d->frame;
    int *member_of = d->scratch.member_of;
    for (int k = 0; k < p->classes.count; k++)
        member_of[k] = -1;
    for (int a = 0; a < f->members.count; a++)
        member_of[f->members.id[a]] = a;
    double sum = 0;
    for (int i = 0; i < d->tables->count; i++) {
        const struct Pair *pair = d->tables->pair + i;
        int one = member_of[pair->one], other = member_of[pair->other];
        if (one < 0 || other < 0)
            continue;
        double *mine = d->slack.weight + one, *its = d->slack.weight + other;
        double most = (*mine < *its ? *mine : *its) * pair->joint_regret;
        if (most <= 0)
            continue;
        double charge = charge_pair(d, one, other, most), part = charge / pair->joint_regret;
        *mine = *mine > part ? *mine - part : 0;
        *its = *its > part ? *its - part : 0;
        sum += charge;
    }
    return sum;
}

/* ---- charging a class alone ---- */

/* What the class pays at most on its own for a test with the way there. */
static double own_slack(const Dual *d, int one, int t)
{
    const Problem *p = d->problem;
    double sum = d->slack.test[(size_t)one * p->tests.count + t]
        + d->slack.place[(size_t)one * p->places.count + p->tests.place[t]];
    for (Word w = missing(d, p->tests.need[t]); w; w &= w - 1)
        sum += d->slack.opening[(size_t)one * p->openings.count + __builtin_ctzll(w)];
    return sum;
}

/* Draw `amount` for the test: from its own slack, then from the way, whose draws serve all tests.
 * */
static void pay_alone(Dual *d, int one, int t, double amount)
{
    const Problem *p = d->problem;
    int at = p->tests.place[t];
    Word openings = missing(d, p->tests.need[t]);
    double lack = less_draws(d, amount, at, openings);
    lack -= draw_alone(d->slack.test + (size_t)one * p->tests.count + t, lack);
    for (Word w = openings; w && lack > 0; w &= w - 1) {
        int o = __builtin_ctzll(w);
        double part = draw_alone(d->slack.opening + (size_t)one * p->openings.count + o, lack);
        d->scratch.draws[p->places.count + o] += part;
        lack -= part;
    }
    if (lack > 0)
        d->scratch.draws[at] += draw_alone(d->slack.place + (size_t)one * p->places.count + at,
                                           lack);
}

/* Raise what one class pays for a requirement of its remedy, `most` at most; returns it. */
static double charge_alone(Dual *d, int one, int bit, double most)
{
    const Word *fulfillers = d->tables->fulfillers + (size_t)bit * d->tables->words;
    double charge = most;
    int some = 0;
    for (int w = 0; w < d->tables->words; w++)
        for (Word bits = fulfillers[w] & d->frame->tests.set[w]; bits; bits &= bits - 1) {
            double here = own_slack(d, one, w * 64 + __builtin_ctzll(bits));
            charge = here < charge ? here : charge;
            some = 1;
        }
    if (!some || charge <= 0)
        return 0;
    for (int w = 0; w < d->tables->words; w++)
        for (Word bits = fulfillers[w] & d->frame->tests.set[w]; bits; bits &= bits - 1)
            pay_alone(d, one, w * 64 + __builtin_ctzll(bits), charge);
    forget_draws(d);
    return charge;
}

/* Every member for all that its remedy waits for. */
static double charge_requirements(Dual *d)
{
    const Requirements *all = &d->problem->requirements;
    double sum = 0;
    for (int a = 0; a < d->frame->members.count; a++) {
        int k = d->frame->members.id[a];
        double *weight = d->slack.weight + a;
        for (int i = all->due_first[k]; i < all->due_first[k + 1]; i++) {
            if (d->node->fulfilment >> all->due[i] & 1 || *weight <= 0)
                continue;
            double charge = charge_alone(d, a, all->due[i], *weight * all->forfeit[i]);
            double part = charge / all->forfeit[i];
            *weight = *weight > part ? *weight - part : 0;
            sum += charge;
        }
    }
    return sum;
}

/* ---- the bound ---- */

/* The slack that all members are left with for a test and the way to it, and what the way from here
 * takes beyond what they began with. */
static double reduced_cost(const Dual *d, int i)
{
    const Problem *p = d->problem;
    int t = d->frame->tests.id[i], at = p->tests.place[t];
    int set_up = p->bounds & BOUND_SETUP ? 1 : 0;
    Word openings = missing(d, p->tests.need[t]);
    double way = d->frame->tests.minutes[i] - p->tests.minutes[t];
    if (set_up && at != d->node->place)
        way -= p->places.entry[at];
    for (Word w = openings; w && set_up; w &= w - 1)
        way -= p->openings.minutes[__builtin_ctzll(w)];
    double sum = way > 0 ? way * d->frame->members.mass : 0;
    for (int a = 0; a < d->frame->members.count; a++) {
        sum += d->slack.test[(size_t)a * p->tests.count + t]
            + d->slack.place[(size_t)a * p->places.count + at];
        for (Word w = openings; w; w &= w - 1)
            sum += d->slack.opening[(size_t)a * p->openings.count + __builtin_ctzll(w)];
    }
    return sum;
}

double pairs_bound(const Problem *p, PairBound *pairs, Frame *f, const Node *node)
{
    Dual d = {.problem = p, .tables = &pairs->tables, .frame = f, .node = node,
              .slack = slack_rows(p, pairs->scratch.slack), .scratch = pairs->scratch};
    fill_slack(&d);
    f->pairs.bound = charge_requirements(&d);
    f->pairs.bound += charge_pairs(&d);
    double least = INFINITY;
    for (int i = 0; i < f->tests.count; i++) {
        f->pairs.reduced_cost[i] = reduced_cost(&d, i);
        least = f->pairs.reduced_cost[i] < least ? f->pairs.reduced_cost[i] : least;
    }
    return f->pairs.bound + least;
}

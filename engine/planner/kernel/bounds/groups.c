/* Bits have a price of their own within each group of classes: a bound, climbed to at the root.
 *
 * The family of groups is the sets of classes at the nodes of the best plan known; the proof stands
 * in the module page, `engine/planner/__init__.py`. Any prices, bids and shares give a bound; the
 * best are climbed to by slopes, with corners rounded ever less. */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "groups.h"

enum { GROUPS_A_CLASS = 4, SEATS_A_CLASS = 24, CLIMB = 300, TRIAL = 8 };

static const double FIRST_STEP = 0.08, ROUND_AT_FIRST = 0.15, ROUND_AT_LAST = 0.006;
static const double FIRST_PRICE = 0.7, SMALL_PRICE = 0.03;
static const double STEADY = 0.9, STEADY_SQUARE = 0.99;

/* ---- room ---- */

void *groups_room(size_t many, size_t size, int *short_of)
{
    void *made = calloc(many + 1, size);
    *short_of |= !made;
    return made;
}

void dials_make(Dials *d, size_t many, int *bad)
{
    d->many = many;
    d->at = groups_room(many, sizeof(double), bad);
    d->slope = groups_room(many, sizeof(double), bad);
    d->mean = groups_room(many, sizeof(double), bad);
    d->square = groups_room(many, sizeof(double), bad);
}

static void dials_free(Dials *d)
{
    free(d->at);
    free(d->slope);
    free(d->mean);
    free(d->square);
}

/* One step up; slopes are set to nothing for the next. */
void dials_turn(const Groups *g, Dials *d, size_t from, size_t to)
{
    double mean = 1 / g->due, square = 1 / g->due_square;
    for (size_t i = from; i < to; i++) {
        d->mean[i] += (1 - STEADY) * (d->slope[i] - d->mean[i]);
        d->square[i] += (1 - STEADY_SQUARE) * (d->slope[i] * d->slope[i] - d->square[i]);
        d->at[i] += g->step * d->mean[i] * mean / (sqrt(d->square[i] * square) + 1e-12);
        d->slope[i] = 0;
    }
}

/* ---- the family ---- */

typedef struct {
    Word *sets;          /* [groups][words] */
    double *leaning;     /* [groups][classes] relative weights there */
    size_t seats;
    int most;
} Album;

static int seen_before(const Groups *g, const Album *a, const Word *set)
{
    for (int i = 0; i < g->groups; i++)
        if (!memcmp(a->sets + (size_t)i * g->p->words, set, g->p->words * sizeof(Word)))
            return 1;
    return 0;
}

static void keep(Groups *g, Album *a, const Node *node, int size)
{
    const Problem *p = g->p;
    double *leaning = a->leaning + (size_t)g->groups * g->many, most = 0;
    memcpy(a->sets + (size_t)g->groups * p->words, node->set, p->words * sizeof(Word));
    for (int k = 0; k < g->many; k++)
        if (node->set[g->who[k] / 64] >> (g->who[k] % 64) & 1) {
            leaning[k] = node->weight[g->who[k]] / g->weight[k];
            most = leaning[k] > most ? leaning[k] : most;
        }
    for (int k = 0; k < g->many; k++)
        leaning[k] /= most;
    g->groups++;
    a->seats += size;
}

static void collect(Groups *g, Album *a, Search *s, Node *node, int depth)
{
    const Problem *p = g->p;
    int size = node_size(p, node);
    if (size < 2 || g->groups >= a->most || a->seats + size > (size_t)SEATS_A_CLASS * g->many
        || seen_before(g, a, node->set))
        return;
    keep(g, a, node, size);
    Known known = search_follow(s, node, depth);
    Frame *f = known.test == NO_TEST ? NULL : search_enter(s, node, depth);
    if (!f || !frame_ready(s, depth + 1))
        return;
    int test = known.test % p->tests;
    Word more = search_leads(p, f, node, test, known.test / p->tests);
    for (int o = 0; o < outcomes_of(p, test); o++)
        search_branch(p, node, test, more, o, &f->child[o]);
    for (int o = 0; o < outcomes_of(p, test); o++)
        if (node_size(p, &f->child[o]))
            collect(g, a, s, &f->child[o], depth + 1);
}

static void seat(Groups *g, const Album *a, double bit_price)
{
    const Problem *p = g->p;
    int at = 0;
    for (int i = 0; i < g->groups; i++) {
        g->from[i] = at;
        double price = bit_price * (i ? SMALL_PRICE : FIRST_PRICE);
        for (int k = 0; k < g->many; k++)
            if (a->sets[(size_t)i * p->words + g->who[k] / 64] >> (g->who[k] % 64) & 1) {
                double leaning = a->leaning[(size_t)i * g->many + k];
                g->price.at[at] = log(price * (leaning > 1e-3 ? leaning : 1e-3));
                g->home[at] = i;
                g->member[at++] = k;
                g->chair_from[k + 1]++;
            }
    }
    g->from[g->groups] = at;
    for (int k = 0; k < g->many; k++)
        g->chair_from[k + 1] += g->chair_from[k];
    int *next = (int *)g->by_group;
    memcpy(next, g->chair_from, g->many * sizeof(int));
    for (int i = 0; i < at; i++)
        g->chair[next[g->member[i]]++] = i;
}

static int make_family(Groups *g, Search *s, Node *root, int depth)
{
    const Problem *p = g->p;
    Album a = {.most = GROUPS_A_CLASS * g->many};
    int bad = 0;
    a.sets = groups_room((size_t)a.most * p->words, sizeof(Word), &bad);
    a.leaning = groups_room((size_t)a.most * g->many, sizeof(double), &bad);
    if (!bad)
        collect(g, &a, s, root, depth);
    size_t seats = a.seats;
    g->from = groups_room(g->groups + 1, sizeof(int), &bad);
    g->member = groups_room(seats, sizeof(int), &bad);
    g->home = groups_room(seats, sizeof(int), &bad);
    g->chair = groups_room(seats, sizeof(int), &bad);
    g->chair_from = groups_room(g->many + 1, sizeof(int), &bad);
    g->theta = groups_room(seats, sizeof(double), &bad);
    g->mass = groups_room(seats, sizeof(double), &bad);
    g->sum = groups_room(g->groups, sizeof(double), &bad);
    g->log_sum = groups_room(g->groups, sizeof(double), &bad);
    g->lean = groups_room(g->groups, sizeof(double), &bad);
    g->of_class = groups_room(g->many, sizeof(double), &bad);
    g->by_group = groups_room(g->groups + g->many, sizeof(double), &bad);
    dials_make(&g->price, seats, &bad);
    if (!bad)
        seat(g, &a, s->bit_price);
    free(a.sets);
    free(a.leaning);
    return !bad;
}

/* ---- opening and closing ---- */

static int weigh(Groups *g, const Node *root)
{
    int bad = 0, classes = g->p->classes;
    g->weight = groups_room(classes, sizeof(double), &bad);
    g->who = groups_room(classes, sizeof(int), &bad);
    g->local = groups_room(classes, sizeof(int), &bad);
    for (int k = 0; k < classes && !bad; k++)
        if (root->set[k / 64] >> (k % 64) & 1) {
            g->weight[g->many] = root->weight[k];
            g->local[k] = g->many;
            g->who[g->many++] = k;
        }
    return !bad;
}

int groups_open(Groups *g, Search *s, Node *root, int depth)
{
    memset(g, 0, sizeof *g);
    g->p = s->problem;
    return weigh(g, root) && make_family(g, s, root, depth) && sales_make(g, root) && ends_make(g);
}

void groups_close(Groups *g)
{
    void *held[] = {g->weight, g->who, g->local, g->kind, g->from, g->member, g->home, g->chair_from, g->chair, g->theta, g->mass, g->sum,
                    g->log_sum, g->lean, g->of_class, g->by_group, g->kinds, g->row_from, g->row,
                    g->noise, g->stall_from, g->stall, g->bid_from, g->told, g->gain, g->charge,
                    g->heat, g->toll_from, g->toll_test, g->toll, g->part, g->near_from, g->near,
                    g->near_cost, g->choice, g->far, g->least, g->log_share, g->odds,
                    g->share, g->margin, g->end, g->hot_from, g->hot, g->due_from, g->due_toll,
                    g->due_part, g->warm_to, g->due_mask};
    for (size_t i = 0; i < sizeof held / sizeof *held; i++)
        free(held[i]);
    dials_free(&g->price);
    dials_free(&g->bid);
    dials_free(&g->fit);
    dials_free(&g->rest);
}

/* ---- climbing ---- */

static void spread_prices(Groups *g)
{
    memset(g->of_class, 0, g->many * sizeof(double));
    for (int i = 0; i < g->groups; i++) {
        double sum = 0;
        for (int at = g->from[i]; at < g->from[i + 1]; at++) {
            g->theta[at] = exp(g->price.at[at]);
            g->mass[at] = g->theta[at] * g->weight[g->member[at]];
            g->of_class[g->member[at]] += g->theta[at];
            sum += g->mass[at];
        }
        g->sum[i] = sum;
        g->log_sum[i] = log2(sum);
        g->lean[i] = 0;
    }
}

static void turn_prices(Groups *g)
{
    for (int at = 0; at < g->from[g->groups]; at++) {
        g->price.slope[at] += g->lean[g->home[at]] * g->weight[g->member[at]];
        g->price.slope[at] *= g->theta[at];
    }
    dials_turn(g, &g->price, 0, g->price.many);
    for (size_t i = 0; i < g->price.many; i++)
        g->price.at[i] = g->price.at[i] > -40 ? g->price.at[i] : -40;
}

/* Minutes that a test takes, as a scale for what is rounded. */
static double scale_of(const Problem *p)
{
    double sum = 0;
    for (int t = 0; t < p->tests; t++)
        sum += p->minutes[t];
    return sum > 0 ? sum / p->tests : 1;
}

/* The bound at the prices, bids and shares as they stand; bids turn as soon as they are used. */
double groups_value(Groups *g, double round)
{
    g->steps++;
    g->due = 1 - pow(STEADY, g->steps);
    g->due_square = 1 - pow(STEADY_SQUARE, g->steps);
    spread_prices(g);
    double sum = ends_cost(g, round);
    for (int t = 0; t < g->p->tests; t++)
        sum -= sell(g, t, round);
    return sum;
}

static double climb_once(Groups *g, double round)
{
    double sum = groups_value(g, round);
    turn_prices(g);
    ends_turn(g);
    share_tolls(g);
    if (sum > g->best)
        g->best = sum;
    return sum;
}

/* Climb until the share of the time runs out; returns the greatest bound met. */
double groups_climb(Groups *g, Search *s, double until)
{
    double scale = scale_of(g->p), began = s->spent(s->self), left = 1;
    int most = CLIMB;
    for (int i = 0; i < most && !s->stopped; i++) {
        left = 1 - (double)i / most;
        double round = ROUND_AT_FIRST * left * left;
        g->step = FIRST_STEP * (left + 0.02);
        climb_once(g, scale * (round > ROUND_AT_LAST ? round : ROUND_AT_LAST));
        search_look(s);
        double spent = s->spent(s->self);
        if (i == TRIAL && spent > began) {
            int fit = (int)((until - spent) / (spent - began) * (TRIAL + 1));
            most = fit < CLIMB ? fit : CLIMB;
        }
        if (spent >= until && until < 1)
            break;
    }
    return g->best * (1 - 1e-9);
}

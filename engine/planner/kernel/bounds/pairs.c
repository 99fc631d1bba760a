/* Every two classes are parted by some test on the way of both, or share a leaf.
 *
 * Each class has a purse for each test, for each place and for each opening: what its own way pays
 * for them if it meets them, its weight times the minutes. A pair may charge what both purses of
 * every test that parts it hold together, the way there included. It also speaks for an equal part
 * of both weights, and never charges more than that part loses by sharing a leaf. What all pairs
 * charge is a lower bound; what the purses keep is added where a test is certain to be done.
 *
 * Before the pairs, each class is charged alone for what must be shown before its remedy is named:
 * it meets one of the tests that show it, or loses what it forfeits by another remedy. */
#include <math.h>
#include <string.h>
#include "kernel.h"

typedef struct {
    const Problem *p;
    const Frame *f;
    const Node *node;
    double *test;     /* [members][tests] purses */
    double *place;    /* [members][places] */
    double *opening;  /* [members][openings] */
    double *weight;   /* [members] weight that no pair speaks for yet */
    double *gate;     /* [gates] least that a pair finds in the purses of the gate's tests */
    int *met, meets;  /* gates that stand between the two at hand */
    double *took;     /* [places + openings] what the pair at hand has drawn */
} Books;

static void fill(Books *b)
{
    const Problem *p = b->p;
    const Frame *f = b->f;
    int set_up = p->bounds & BOUND_SETUP ? 1 : 0;
    for (int a = 0; a < f->members; a++) {
        double weight = b->node->weight[f->member[a]];
        double *test = b->test + (size_t)a * p->tests;
        b->weight[a] = weight;
        for (int i = 0; i < f->tests; i++)
            test[f->test[i]] = weight * p->minutes[f->test[i]];
        for (int at = 0; at < p->places; at++)
            b->place[(size_t)a * p->places + at] =
                set_up && at != b->node->place ? weight * p->entry[at] : 0;
        for (int o = 0; o < p->openings; o++)
            b->opening[(size_t)a * p->openings + o] =
                set_up && !(b->node->opened >> o & 1) ? weight * p->opening[o] : 0;
    }
}

/* Draw `amount` from the two purses, the fuller one first, until both hold the same. */
static void draw(double *one, double *other, double amount)
{
    double *full = *one > *other ? one : other, *poor = full == one ? other : one;
    double level = *full - *poor < amount ? *full - *poor : amount, half = (amount - level) / 2;
    *full = *full - level - half > 0 ? *full - level - half : 0;
    *poor = *poor - half > 0 ? *poor - half : 0;
}

static double parted(const Problem *p, int t, int j, int k)
{
    if (p->slot[t] < 0)
        return 1;
    const uint16_t *kind = p->kind + (size_t)t * p->classes;
    return p->apart[p->apart_at[t] + kind[j] * p->kinds[t] + kind[k]];
}

static double way(const Books *b, int one, int other, int g)
{
    const Problem *p = b->p;
    int at = p->gate_place[g];
    double sum = b->place[(size_t)one * p->places + at] + b->place[(size_t)other * p->places + at];
    for (Word w = p->gate_need[g] & ~b->node->opened; w; w &= w - 1) {
        int o = __builtin_ctzll(w);
        sum += b->opening[(size_t)one * p->openings + o]
            + b->opening[(size_t)other * p->openings + o];
    }
    return sum;
}

/* What members a and b can pay at most at each gate, tests only; sets the gates met. Returns 0 as
 * soon as a test that parts them finds nothing in purses. */
static int look(Books *b, int one, int other)
{
    const Problem *p = b->p;
    int j = b->f->member[one], k = b->f->member[other];
    const Word *parts = p->parts + ((size_t)j * p->classes + k) * p->test_words;
    const double *mine = b->test + (size_t)one * p->tests, *its = b->test + (size_t)other * p->tests;
    b->meets = 0;
    for (int w = 0; w < p->test_words; w++)
        for (Word bits = parts[w] & b->f->useful[w]; bits; bits &= bits - 1) {
            int t = w * 64 + __builtin_ctzll(bits), g = p->gate[t];
            double can = mine[t] + its[t];
            if (can <= 0 && way(b, one, other, g) <= 0)
                return 0;
            can /= parted(p, t, j, k);
            if (b->gate[g] < 0) {
                b->gate[g] = can;
                b->met[b->meets++] = g;
            } else if (can < b->gate[g]) {
                b->gate[g] = can;
            }
        }
    return 1;
}

/* Draw what the gate's tests lack from the openings, then from the place; draws serve all gates. */
static void pay_way(Books *b, int one, int other, int g, double lack)
{
    const Problem *p = b->p;
    int at = p->gate_place[g];
    lack -= b->took[at];
    for (Word w = p->gate_need[g] & ~b->node->opened; w; w &= w - 1)
        lack -= b->took[p->places + __builtin_ctzll(w)];
    for (Word w = p->gate_need[g] & ~b->node->opened; w && lack > 0; w &= w - 1) {
        int o = __builtin_ctzll(w);
        double *x = b->opening + (size_t)one * p->openings + o;
        double *y = b->opening + (size_t)other * p->openings + o;
        double amount = *x + *y < lack ? *x + *y : lack;
        draw(x, y, amount);
        b->took[p->places + o] += amount;
        lack -= amount;
    }
    if (lack > 0) {
        draw(b->place + (size_t)one * p->places + at, b->place + (size_t)other * p->places + at,
             lack);
        b->took[at] += lack;
    }
}

/* What each gate's tests still owe once the way is paid; a draw serves every gate behind it. */
static void settle_gates(Books *b, double charge)
{
    const Problem *p = b->p;
    for (int m = 0; m < b->meets; m++) {
        int g = b->met[m];
        double owed = charge - b->took[p->gate_place[g]];
        for (Word w = p->gate_need[g] & ~b->node->opened; w; w &= w - 1)
            owed -= b->took[p->places + __builtin_ctzll(w)];
        b->gate[g] = owed > 0 ? owed : 0;
    }
}

static void pay_tests(Books *b, int one, int other)
{
    const Problem *p = b->p;
    int j = b->f->member[one], k = b->f->member[other];
    const Word *parts = p->parts + ((size_t)j * p->classes + k) * p->test_words;
    double *mine = b->test + (size_t)one * p->tests, *its = b->test + (size_t)other * p->tests;
    for (int w = 0; w < p->test_words; w++)
        for (Word bits = parts[w] & b->f->useful[w]; bits; bits &= bits - 1) {
            int t = w * 64 + __builtin_ctzll(bits);
            draw(mine + t, its + t, b->gate[p->gate[t]] * parted(p, t, j, k));
        }
}

static double charge(Books *b, int one, int other, double most)
{
    double can = look(b, one, other) ? most : 0;
    for (int m = 0; m < b->meets && can > 0; m++) {
        double here = b->gate[b->met[m]] + way(b, one, other, b->met[m]);
        can = here < can ? here : can;
    }
    if (can > 0) {
        int touched = 0;
        for (int m = 0; m < b->meets; m++) {
            int g = b->met[m];
            if (can > b->gate[g]) {
                pay_way(b, one, other, g, can - b->gate[g]);
                touched = 1;
            }
        }
        settle_gates(b, can);
        pay_tests(b, one, other);
        if (touched)
            memset(b->took, 0, (b->p->places + b->p->openings) * sizeof(double));
    }
    for (int m = 0; m < b->meets; m++)
        b->gate[b->met[m]] = -1;
    return can > 0 ? can : 0;
}

/* What the class pays at most on its own for a test with the way there. */
static double alone(const Books *b, int one, int t)
{
    const Problem *p = b->p;
    double sum = b->test[(size_t)one * p->tests + t] + b->place[(size_t)one * p->places + p->place[t]];
    for (Word w = p->need[t] & ~b->node->opened; w; w &= w - 1)
        sum += b->opening[(size_t)one * p->openings + __builtin_ctzll(w)];
    return sum;
}

static double take(double *purse, double lack)
{
    double amount = *purse < lack ? *purse : lack > 0 ? lack : 0;
    *purse -= amount;
    return amount;
}

/* Take `amount` for the test: from its own purse, then from the way, whose draws serve all tests. */
static void pay_alone(Books *b, int one, int t, double amount)
{
    const Problem *p = b->p;
    double lack = amount - b->took[p->place[t]];
    for (Word w = p->need[t] & ~b->node->opened; w; w &= w - 1)
        lack -= b->took[p->places + __builtin_ctzll(w)];
    lack -= take(b->test + (size_t)one * p->tests + t, lack);
    for (Word w = p->need[t] & ~b->node->opened; w && lack > 0; w &= w - 1) {
        int o = __builtin_ctzll(w);
        double drawn = take(b->opening + (size_t)one * p->openings + o, lack);
        b->took[p->places + o] += drawn;
        lack -= drawn;
    }
    if (lack > 0)
        b->took[p->place[t]] += take(b->place + (size_t)one * p->places + p->place[t], lack);
}

/* What one class pays for a requirement of its remedy, at most `most`. */
static double charge_alone(Books *b, int one, int bit, double most)
{
    const Problem *p = b->p;
    const Word *meeting = p->meeting + (size_t)bit * p->test_words;
    double can = most;
    int some = 0;
    for (int w = 0; w < p->test_words; w++)
        for (Word bits = meeting[w] & b->f->useful[w]; bits; bits &= bits - 1) {
            double here = alone(b, one, w * 64 + __builtin_ctzll(bits));
            can = here < can ? here : can;
            some = 1;
        }
    if (!some || can <= 0)
        return 0;
    for (int w = 0; w < p->test_words; w++)
        for (Word bits = meeting[w] & b->f->useful[w]; bits; bits &= bits - 1)
            pay_alone(b, one, w * 64 + __builtin_ctzll(bits), can);
    memset(b->took, 0, (p->places + p->openings) * sizeof(double));
    return can;
}

/* Every member for all that its remedy waits for. */
static double charge_owed(Books *b)
{
    const Problem *p = b->p;
    double sum = 0;
    for (int a = 0; a < b->f->members; a++) {
        int k = b->f->member[a];
        for (int i = p->due_from[k]; i < p->due_from[k + 1]; i++) {
            if (b->node->noted >> p->due[i] & 1 || b->weight[a] <= 0)
                continue;
            double can = charge_alone(b, a, p->due[i], b->weight[a] * p->forfeit[i]);
            double spoken = can / p->forfeit[i];
            b->weight[a] = b->weight[a] > spoken ? b->weight[a] - spoken : 0;
            sum += can;
        }
    }
    return sum;
}

/* What stays in everybody's purses for a test and the way to it, and what the way from here takes
 * beyond all that they held. */
static double kept(const Books *b, int i)
{
    const Problem *p = b->p;
    int t = b->f->test[i], set_up = p->bounds & BOUND_SETUP ? 1 : 0;
    double way = b->f->cost[i] - p->minutes[t];
    if (set_up && p->place[t] != b->node->place)
        way -= p->entry[p->place[t]];
    for (Word w = p->need[t] & ~b->node->opened; w && set_up; w &= w - 1)
        way -= p->opening[__builtin_ctzll(w)];
    double sum = way > 0 ? way * b->f->total : 0;
    for (int a = 0; a < b->f->members; a++) {
        sum += b->test[(size_t)a * p->tests + t] + b->place[(size_t)a * p->places + p->place[t]];
        for (Word w = p->need[t] & ~b->node->opened; w; w &= w - 1)
            sum += b->opening[(size_t)a * p->openings + __builtin_ctzll(w)];
    }
    return sum;
}

/* All pairs of the members, those with most at stake first. */
static double charge_all(Books *b)
{
    const Problem *p = b->p;
    const Frame *f = b->f;
    int *seat = p->seat;
    for (int k = 0; k < p->classes; k++)
        seat[k] = -1;
    for (int a = 0; a < f->members; a++)
        seat[f->member[a]] = a;
    double sum = 0;
    for (int i = 0; i < p->pairs; i++) {
        const struct Pair *pair = p->pair + i;
        int one = seat[pair->one], other = seat[pair->other];
        if (one < 0 || other < 0)
            continue;
        double *mine = b->weight + one, *its = b->weight + other;
        double most = (*mine < *its ? *mine : *its) * pair->confused;
        if (most <= 0)
            continue;
        double can = charge(b, one, other, most), spoken = can / pair->confused;
        *mine = *mine > spoken ? *mine - spoken : 0;
        *its = *its > spoken ? *its - spoken : 0;
        sum += can;
    }
    return sum;
}

double pairs_bound(const Problem *p, Frame *f, const Node *node)
{
    Books b = {.p = p, .f = f, .node = node, .test = p->purse, .gate = p->gate_room,
               .met = p->gate_met, .took = p->took};
    b.place = b.test + (size_t)p->classes * p->tests;
    b.opening = b.place + (size_t)p->classes * p->places;
    b.weight = b.opening + (size_t)p->classes * p->openings;
    fill(&b);
    f->pairs = charge_owed(&b);
    f->pairs += charge_all(&b);
    double least = INFINITY;
    for (int i = 0; i < f->tests; i++) {
        f->kept[i] = kept(&b, i);
        least = f->kept[i] < least ? f->kept[i] : least;
    }
    return f->pairs + least;
}

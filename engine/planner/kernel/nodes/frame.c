/* What a node has: members, the cost of stopping, the tests that may come next.
 *
 * Entering a node costs O(tests x (words of a set + outcomes x bytes of a set)) where no row of
 * its tests splits, O(tests x outcomes x classes) where rows split. */
#include <math.h>
#include <string.h>
#include "frame.h"
#include "memory.h"

int frame_make(const Problem *p, Frame *f)
{
    int failure = 0, tests = p->tests.count, entries = tests * p->openings.bundles;
    f->members.id = zeroes(p->classes.count, sizeof(int), &failure);
    f->tests.id = zeroes(entries, sizeof(int), &failure);
    f->tests.base = zeroes(entries, sizeof(int), &failure);
    f->tests.bundle = zeroes(entries, sizeof(int), &failure);
    f->tests.lead_minutes = zeroes(entries, sizeof(double), &failure);
    f->ranking.order = zeroes(entries, sizeof(int), &failure);
    f->scratch.counts = zeroes(p->places.count + 64, sizeof(int), &failure);
    f->tests.mass = zeroes(p->outcomes.count, sizeof(double), &failure);
    f->tests.minutes = zeroes(entries, sizeof(double), &failure);
    f->information.minutes = zeroes(tests, sizeof(double), &failure);
    f->information.gain = zeroes(entries, sizeof(double), &failure);
    f->information.full_price = zeroes(tests, sizeof(double), &failure);
    f->information.zero_price = zeroes(tests, sizeof(double), &failure);
    f->information.reduced_profit = zeroes(tests, sizeof(double), &failure);
    f->pairs.reduced_cost = zeroes(entries, sizeof(double), &failure);
    f->tests.set = zeroes(test_words(p), sizeof(Word), &failure);
    f->ranking.lower = zeroes(entries, sizeof(double), &failure);
    f->ranking.guess = zeroes(entries, sizeof(double), &failure);
    f->information.bits = zeroes((size_t)p->clusters.levels * p->classes.count, sizeof(double),
                                 &failure);
    f->children.value = zeroes(p->outcomes.most, sizeof(double), &failure);
    f->scratch.values = zeroes(p->classes.count + p->remedies.count, sizeof(double), &failure);
    f->children.node = zeroes(p->outcomes.most, sizeof(Node), &failure);
    for (int o = 0; !failure && o < p->outcomes.most; o++)
        failure = !node_make(p, &f->children.node[o]);
    return !failure && node_make(p, &f->children.part);
}

void frame_free(const Problem *p, Frame *f)
{
    for (int o = 0; f->children.node && o < p->outcomes.most; o++)
        node_free(&f->children.node[o]);
    node_free(&f->children.part);
    void *blocks[] = {f->members.id, f->tests.id, f->tests.base, f->tests.bundle,
                      f->tests.lead_minutes, f->tests.minutes, f->tests.mass, f->tests.set,
                      f->information.minutes, f->information.gain, f->information.full_price,
                      f->information.zero_price, f->information.reduced_profit,
                      f->information.bits, f->pairs.reduced_cost, f->ranking.lower,
                      f->ranking.guess, f->ranking.order, f->children.node, f->children.value,
                      f->scratch.values, f->scratch.counts};
    for (size_t i = 0; i < sizeof blocks / sizeof *blocks; i++)
        free(blocks[i]);
}

double *byte_masses(const Problem *p)
{
    int bytes = p->classes.words * 8, classes = p->classes.count;
    double *mass = calloc((size_t)bytes * 256, sizeof(double));
    for (int b = 0; mass && b < bytes; b++)
        for (int value = 1; value < 256; value++) {
            int low = __builtin_ctz(value), k = b * 8 + low;
            double *row = mass + (size_t)b * 256;
            row[value] = row[value & (value - 1)] + (k < classes ? p->classes.weight[k] : 0);
        }
    return mass;
}

/* Stop with the best remedy of those that may be named; one always may. */
static void weigh_stop(const Problem *p, Frame *f, const Node *node)
{
    int remedies = p->remedies.count, best = -1;
    double *cost = f->scratch.values;
    for (int r = 0; r < remedies; r++)
        cost[r] = 0;
    for (int i = 0; i < f->members.count; i++) {
        const double *regret = p->remedies.regret + (size_t)f->members.id[i] * remedies;
        double weight = node->weight[f->members.id[i]];
        for (int r = 0; r < remedies; r++)
            cost[r] += weight * regret[r];
    }
    for (int r = 0; r < remedies; r++)
        if (!(p->remedies.requirements[r] & ~node->fulfilment)
            && (best < 0 || cost[r] < cost[best]))
            best = r;
    f->stop = (Stop){cost[best], best};
}

static void list_members(const Problem *p, Frame *f, const Node *node)
{
    f->members.count = 0;
    f->members.mass = 0;
    for (int w = 0; w < p->classes.words; w++)
        for (Word bits = node->set[w]; bits; bits &= bits - 1) {
            int k = w * 64 + __builtin_ctzll(bits);
            f->members.id[f->members.count++] = k;
            f->members.mass += node->weight[k];
        }
}

static double set_mass(const Problem *p, const double *byte_mass, const Node *node, int column)
{
    const Word *support = p->outcomes.support + (size_t)column * p->classes.words;
    double mass = 0;
    for (int w = 0; w < p->classes.words; w++) {
        Word bits = node->set[w] & support[w];
        for (int b = w * 8; bits; bits >>= 8, b++)
            mass += byte_mass[(size_t)b * 256 + (bits & 255)];
    }
    return mass;
}

static int is_mixed(const Problem *p, const Node *node, int test)
{
    if (p->rows.slot[test] < 0)
        return 0;
    const Word *mixed = p->rows.mixed + (size_t)test * p->classes.words;
    for (int w = 0; w < p->classes.words; w++)
        if (node->set[w] & mixed[w])
            return 1;
    return 0;
}

static void weigh_outcomes(const Problem *p, const double *byte_mass, Frame *f,
                           const Node *node, int test)
{
    int first = p->outcomes.first[test], outcomes = outcome_count(p, test);
    double *mass = f->tests.mass + first;
    if (!node->has_code && !is_mixed(p, node, test)) {
        for (int o = 0; o < outcomes; o++)
            mass[o] = set_mass(p, byte_mass, node, first + o);
        return;
    }
    const double *odds = p->outcomes.odds + (size_t)first * p->classes.count;
    const uint8_t *answer = p->rows.answer + (size_t)test * p->classes.count;
    memset(mass, 0, outcomes * sizeof(double));
    for (int i = 0; i < f->members.count; i++) {
        int k = f->members.id[i];
        if (answer[k] != MIXED)
            mass[answer[k]] += node->weight[k];
        else
            for (int o = 0; o < outcomes; o++)
                mass[o] += node->weight[k] * odds[(size_t)o * p->classes.count + k];
    }
}

Word frame_leads(const Problem *p, const Frame *f, const Node *node, int test, int bundle)
{
    Word need = 0, open = node->openings | p->tests.need[test];
    for (int i = 0; bundle && i < f->tests.count; i++)
        need |= p->tests.need[f->tests.id[i]];
    Word leads = p->openings.bundle[bundle] & need & ~node->openings;
    for (Word w = leads; w; w &= w - 1)
        if (p->openings.prerequisites[__builtin_ctzll(w)] & ~open)
            leads &= ~(w & -w);
    return leads;
}

int frame_pick(const Problem *p, const Frame *f, int entry)
{
    return f->tests.id[entry] + f->tests.bundle[entry] * p->tests.count;
}

static void list_test(const Problem *p, const double *byte_mass, Frame *f,
                      const Node *node, int test)
{
    int i = f->tests.count++;
    f->tests.id[i] = test;
    f->tests.base[i] = i;
    f->tests.bundle[i] = 0;
    f->tests.lead_minutes[i] = 0;
    f->tests.minutes[i] = p->tests.requirements[test] & ~node->fulfilment
        ? INFINITY : p->tests.minutes[test] + setup_minutes(p, node, test);
    f->tests.set[test / 64] |= (Word)1 << (test % 64);
    weigh_outcomes(p, byte_mass, f, node, test);
}

/* A test that is read over leads once more, with others brought out before it: hands go in for
 * that, if not on the way anyhow. No two bundles that bring out the same. */
static void list_bundles(const Problem *p, Frame *f, const Node *node)
{
    Word others[64], more;
    for (int i = 0; i < f->tests.count; i++) {
        int t = f->tests.id[i], count = 0;
        Word own = p->tests.need[t] & *p->openings.leads;
        if (!own || f->tests.minutes[i] == INFINITY)
            continue;
        for (int b = 1; b < p->openings.bundles && b < 64; b++) {
            more = frame_leads(p, f, node, t, b) & ~own;
            int twin = !more || !(p->openings.bundle[b] & own);
            for (int k = 0; k < count && !twin; k++)
                twin = others[k] == more;
            if (twin)
                continue;
            int e = f->tests.entries++;
            others[count++] = more;
            f->tests.id[e] = t;
            f->tests.base[e] = i;
            f->tests.bundle[e] = b;
            f->tests.lead_minutes[e] = 0;
            for (Word w = more; w; w &= w - 1)
                f->tests.lead_minutes[e] += p->openings.minutes[__builtin_ctzll(w)];
            size_t change = (size_t)node->place * p->places.count + p->tests.place[t];
            f->tests.lead_minutes[e] += p->tests.need[t] & ~node->openings
                ? 0 : p->places.hands_in[change] - p->places.direct[change];
            f->tests.minutes[e] = f->tests.minutes[i] + f->tests.lead_minutes[e];
        }
    }
}

void frame_enter(const Problem *p, const double *byte_mass, Frame *f, const Frame *above,
                 const Node *node)
{
    list_members(p, f, node);
    weigh_stop(p, f, node);
    f->tests.count = f->revelations.count = f->has_bounds = 0;
    memset(f->tests.set, 0, test_words(p) * sizeof(Word));
    int count = above ? above->tests.count : p->tests.count, member = f->members.id[0];
    Word awaits = node_requirements(p, node) & ~node->fulfilment;
    /* Again where a test awaits what others meet. */
    for (Word before = ~awaits; awaits != before;) {
        before = awaits;
        for (int i = 0; i < count; i++) {
            int t = above ? above->tests.id[i] : i;
            if (f->tests.set[t / 64] >> (t % 64) & 1 || !node_is_open_to(p, node, t)
                || !(node_tells(p, node, t, member) || node_can_meet(p, node, t, awaits)))
                continue;
            list_test(p, byte_mass, f, node, t);
            awaits |= p->tests.requirements[t] & ~node->fulfilment;
        }
    }
    f->tests.entries = f->tests.count;
    if (p->openings.bundles > 1)
        list_bundles(p, f, node);
}

void frame_branch(const Problem *p, Frame *f, const Node *node, int entry)
{
    int test = f->tests.id[entry];
    Word leads = frame_leads(p, f, node, test, f->tests.bundle[entry]);
    for (int o = 0; o < outcome_count(p, test); o++)
        node_branch(p, node, test, leads, o, &f->children.node[o]);
}

int frame_loses_test(const Problem *p, const Frame *f, const Node *node, const Node *child)
{
    Word shorts = child->openings & ~node->openings & SHORT_FOUND;
    int member = shorts ? node_first(p, child) : 0;
    for (int i = 0; shorts && i < f->tests.count; i++) {
        int t = f->tests.id[i];
        if (p->tests.bars[t] & shorts
            && (node_tells(p, child, t, member) || node_can_meet(p, child, t, ~child->fulfilment)))
            return 1;
    }
    return 0;
}

/* What the pair bound looks up: which tests part two classes, which pairs are charged first, and
 * the ways to the tests. Made once: O(classes^2 x tests), plus sorting the pairs. */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "bounds.h"
#include "memory.h"

static int can_part(const Problem *p, int t, int j, int k)
{
    const uint16_t *row = p->row_pairs.row + (size_t)t * p->classes.count;
    return (row[j] != row[k] || p->rows.slot[t] >= 0) && separation(p, t, j, k) > 0;
}

static void list_separators(const Problem *p, PairTables *tables, int j, int k)
{
    Word *separators = tables->separators + ((size_t)j * p->classes.count + k) * tables->words;
    for (int t = 0; t < p->tests.count; t++)
        if (can_part(p, t, j, k))
            separators[t / 64] |= (Word)1 << (t % 64);
}

static void find_routes(const Problem *p, Routes *routes)
{
    const Tests *tests = &p->tests;
    for (int t = 0; t < tests->count; t++) {
        int g = 0;
        while (g < routes->count
               && (routes->place[g] != tests->place[t] || routes->need[g] != tests->need[t]))
            g++;
        routes->of_test[t] = g;
        if (g == routes->count) {
            routes->place[g] = tests->place[t];
            routes->need[g] = tests->need[t];
            routes->count++;
        }
    }
}

/* Minutes of the quickest test that parts the two, with the way to its place, and how many do. */
static double least_minutes(const Problem *p, const PairTables *tables, int j, int k, int *tests)
{
    const Word *separators = tables->separators
        + ((size_t)j * p->classes.count + k) * tables->words;
    double least = INFINITY;
    for (int t = *tests = 0; t < p->tests.count; t++) {
        if (!(separators[t / 64] >> (t % 64) & 1))
            continue;
        int place = p->tests.place[t];
        double minutes = p->tests.minutes[t] / separation(p, t, j, k)
            + (place ? p->places.entry[place] : 0);
        least = minutes < least ? minutes : least;
        ++*tests;
    }
    return *tests ? least : 0;
}

static int by_stake(const void *left, const void *right)
{
    const struct Pair *a = left, *b = right;
    if (a->stake != b->stake)
        return a->stake < b->stake ? 1 : -1;
    if (a->other != b->other)
        return a->other - b->other;
    return a->one - b->one;
}

/* Classes come heaviest first, so the second of a pair is the lighter one. */
static void list_pairs(const Problem *p, PairTables *tables)
{
    tables->count = 0;
    for (int k = 1; k < p->classes.count; k++)
        for (int j = 0; j < k; j++) {
            double regret = p->remedies.joint_regret[(size_t)k * p->classes.count + j];
            if (regret <= 0)
                continue;
            int tests;
            double least = least_minutes(p, tables, j, k, &tests);
            double stake = least * p->classes.weight[k] * regret / (tests ? tests : 1);
            tables->pair[tables->count++] = (struct Pair){j, k, regret, stake};
        }
    qsort(tables->pair, tables->count, sizeof *tables->pair, by_stake);
}

static void list_fulfillers(const Problem *p, PairTables *tables)
{
    for (int t = 0; t < p->tests.count; t++)
        for (int c = p->outcomes.first[t]; c < p->outcomes.first[t + 1]; c++)
            for (Word w = p->outcomes.fulfilment[c]; w; w &= w - 1)
                tables->fulfillers[__builtin_ctzll(w) * tables->words + t / 64]
                    |= (Word)1 << (t % 64);
}

static int make_tables(const Problem *p, PairTables *tables, size_t pairs)
{
    int failure = 0;
    size_t tests = p->tests.count;
    tables->words = test_words(p);
    tables->pair = zeroes(pairs / 2, sizeof *tables->pair, &failure);
    tables->separators = zeroes(pairs * tables->words, sizeof(Word), &failure);
    tables->fulfillers = zeroes((size_t)64 * tables->words, sizeof(Word), &failure);
    tables->routes.of_test = zeroes(tests, sizeof(int), &failure);
    tables->routes.place = zeroes(tests, sizeof(int), &failure);
    tables->routes.need = zeroes(tests, sizeof(Word), &failure);
    return !failure;
}

static int make_scratch(const Problem *p, PairScratch *scratch, size_t classes)
{
    int failure = 0;
    size_t tests = p->tests.count, set_ups = p->places.count + p->openings.count;
    scratch->slack = zeroes(classes * (tests + set_ups + 1), sizeof(double), &failure);
    scratch->route_least = zeroes(tests, sizeof(double), &failure);
    scratch->route_list = zeroes(tests, sizeof(int), &failure);
    scratch->draws = zeroes(set_ups, sizeof(double), &failure);
    scratch->member_of = zeroes(p->classes.count, sizeof(int), &failure);
    return !failure;
}

int pair_bound_make(const Problem *p, PairBound *bound)
{
    PairTables *tables = &bound->tables;
    int by_pairs = p->bounds & BOUND_PAIRS ? 1 : 0;
    size_t classes = by_pairs ? p->classes.count : 0;
    memset(bound, 0, sizeof *bound);
    if (!make_tables(p, tables, classes * classes) || !make_scratch(p, &bound->scratch, classes))
        return 0;
    list_fulfillers(p, tables);
    find_routes(p, &tables->routes);
    for (int g = 0; g < tables->routes.count; g++)
        bound->scratch.route_least[g] = -1;
    for (int j = 0; by_pairs && j < p->classes.count; j++)
        for (int k = 0; k < p->classes.count; k++)
            list_separators(p, tables, j, k);
    if (by_pairs)
        list_pairs(p, tables);
    return 1;
}

void pair_bound_free(PairBound *bound)
{
    PairTables *tables = &bound->tables;
    PairScratch *scratch = &bound->scratch;
    void *blocks[] = {tables->pair, tables->separators, tables->fulfillers, tables->routes.of_test,
                      tables->routes.place, tables->routes.need, scratch->slack,
                      scratch->route_least, scratch->route_list, scratch->draws,
                      scratch->member_of};
    for (size_t i = 0; i < sizeof blocks / sizeof *blocks; i++)
        free(blocks[i]);
}

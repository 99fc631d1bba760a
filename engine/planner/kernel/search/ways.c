/* What the pair bound looks up: which tests part two classes, which pairs are heard first, and the
 * ways to the tests. */
#include <math.h>
#include <stdlib.h>
#include "kernel.h"

static int can_part(const Problem *p, int t, int j, int k)
{
    const uint16_t *kind = p->kind + (size_t)t * p->classes;
    return kind[j] != kind[k]
        && p->apart[p->apart_at[t] + kind[j] * p->kinds[t] + kind[k]] > 0;
}

static int same_kind_parts(const Problem *p, int t, int j, int k)
{
    const uint16_t *kind = p->kind + (size_t)t * p->classes;
    return p->slot[t] >= 0 && p->apart[p->apart_at[t] + kind[j] * p->kinds[t] + kind[k]] > 0;
}

static void note_parts(Problem *p, int j, int k)
{
    Word *parts = p->parts + ((size_t)j * p->classes + k) * p->test_words;
    for (int t = 0; t < p->tests; t++)
        if (can_part(p, t, j, k) || same_kind_parts(p, t, j, k))
            parts[t / 64] |= (Word)1 << (t % 64);
}

static void find_gates(Problem *p)
{
    for (int t = 0; t < p->tests; t++) {
        int g = 0;
        while (g < p->gates && (p->gate_place[g] != p->place[t] || p->gate_need[g] != p->need[t]))
            g++;
        p->gate[t] = g;
        if (g == p->gates) {
            p->gate_place[g] = p->place[t];
            p->gate_need[g] = p->need[t];
            p->gates++;
        }
    }
}

/* Minutes of the quickest test that parts the two, with the way to its place, and how many do. */
static double least_way(const Problem *p, int j, int k, int *tests)
{
    const Word *parts = p->parts + ((size_t)j * p->classes + k) * p->test_words;
    double least = INFINITY;
    for (int t = *tests = 0; t < p->tests; t++) {
        if (!(parts[t / 64] >> (t % 64) & 1))
            continue;
        const uint16_t *kind = p->kind + (size_t)t * p->classes;
        double odds = p->apart[p->apart_at[t] + kind[j] * p->kinds[t] + kind[k]];
        double minutes = p->minutes[t] / odds + (p->place[t] ? p->entry[p->place[t]] : 0);
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
static void list_pairs(Problem *p)
{
    p->pairs = 0;
    for (int k = 1; k < p->classes; k++)
        for (int j = 0; j < k; j++) {
            double confused = p->confusion[(size_t)k * p->classes + j];
            if (confused <= 0)
                continue;
            int tests;
            double least = least_way(p, j, k, &tests);
            double stake = least * p->weight[k] * confused / (tests ? tests : 1);
            p->pair[p->pairs++] = (struct Pair){j, k, confused, stake};
        }
    qsort(p->pair, p->pairs, sizeof *p->pair, by_stake);
}

static void note_meeting(Problem *p)
{
    for (int t = 0; t < p->tests; t++)
        for (int c = p->first[t]; c < p->first[t + 1]; c++)
            for (Word w = p->notes[c]; w; w &= w - 1)
                p->meeting[__builtin_ctzll(w) * p->test_words + t / 64] |= (Word)1 << (t % 64);
}

/* Returns 0 when memory is short. */
int ways_make(Problem *p)
{
    size_t tests = p->tests + 1, classes = p->classes;
    int by_pairs = p->bounds & BOUND_PAIRS ? 1 : 0;
    p->test_words = (p->tests + 63) / 64 + 1;
    p->gates = 0;
    p->parts = calloc(by_pairs ? classes * classes * p->test_words : 1, sizeof(Word));
    p->meeting = calloc((size_t)64 * p->test_words, sizeof(Word));
    p->gate = calloc(tests, sizeof(int));
    p->gate_place = calloc(tests, sizeof(int));
    p->gate_need = calloc(tests, sizeof(Word));
    p->gate_room = calloc(tests, sizeof(double));
    p->gate_met = calloc(tests, sizeof(int));
    p->took = calloc(p->places + p->openings + 1, sizeof(double));
    p->seat = calloc(classes + 1, sizeof(int));
    p->pair = calloc(by_pairs ? classes * classes / 2 + 1 : 1, sizeof *p->pair);
    p->purse = calloc(by_pairs ? classes * (tests + p->places + p->openings + 1) : 1,
                      sizeof(double));
    if (!p->parts || !p->gate || !p->gate_place || !p->gate_need || !p->gate_room || !p->gate_met
        || !p->took || !p->purse || !p->seat || !p->pair || !p->meeting)
        return 0;
    note_meeting(p);
    find_gates(p);
    for (int g = 0; g < p->gates; g++)
        p->gate_room[g] = -1;
    for (int j = 0; by_pairs && j < p->classes; j++)
        for (int k = 0; k < p->classes; k++)
            note_parts(p, j, k);
    if (by_pairs)
        list_pairs(p);
    return 1;
}

void ways_free(Problem *p)
{
    void *held[] = {p->parts, p->gate, p->gate_place, p->gate_need, p->gate_room, p->gate_met,
                    p->took, p->purse, p->seat, p->pair, p->meeting};
    for (size_t i = 0; i < sizeof held / sizeof *held; i++)
        free(held[i]);
}

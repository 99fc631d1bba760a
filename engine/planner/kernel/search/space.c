/* The search's room: frames, memo, rates at first. */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "search.h"

enum { POLL_MOST = 256, POLL_EFFORT = 1 << 20, MOST_IN_PAIRS = 96, MOST_EFFORT = 1000000 };

int search_open(Search *s, const Problem *p, size_t most_bytes)
{
    memset(s, 0, sizeof *s);
    s->problem = p;
    s->frames = calloc(p->tests.count + 2, sizeof(Frame));
    s->byte_mass = byte_masses(p);
    if (!s->frames || !s->byte_mass || node_key_words(p) > MOST_KEY
        || !pair_bound_make(p, &s->pairs) || !memo_open(&s->memo, node_key_words(p), most_bytes))
        return 0;
    double sum = 0;
    for (int t = 0; t < p->tests.count; t++)
        sum += p->tests.minutes[t];
    s->rates.bit_price = p->tests.count && sum > 0 ? sum / p->tests.count : 1;
    s->rates.going_price = 2 * s->rates.bit_price;
    uint64_t often = POLL_EFFORT / ((uint64_t)(p->tests.count + 1) * (p->classes.count + 1));
    s->monitor.interval = often < 1 ? 1 : often > POLL_MOST ? POLL_MOST : often;
    s->monitor.next_look = s->monitor.interval;
    s->most_in_pairs = MOST_IN_PAIRS;
    s->greedy.tries = s->level = 1;
    s->greedy.share = 1;
    return 1;
}

void search_close(Search *s)
{
    groups_free(s->groups);
    for (int d = 0; s->frames && d < s->problem->tests.count + 2; d++)
        if (s->frames[d].members.id)
            frame_free(s->problem, &s->frames[d]);
    free(s->frames);
    free(s->byte_mass);
    pair_bound_free(&s->pairs);
    memo_close(&s->memo);
}

int search_frame(Search *s, int depth)
{
    if (s->frames[depth].children.node || frame_make(s->problem, &s->frames[depth]))
        return 1;
    monitor_fail(&s->monitor);
    return 0;
}

Frame *search_enter(Search *s, const Node *node, int depth)
{
    Frame *f = &s->frames[depth];
    if (!search_frame(s, depth))
        return NULL;
    f->information.bit_price = s->rates.bit_price;
    frame_enter(s->problem, s->byte_mass, f, depth ? f - 1 : NULL, node);
    return f;
}

Estimate search_recall(Search *s, const Word *key)
{
    Estimate e = {0, INFINITY, NO_TEST, 0, 0};
    const Entry *entry = memo_find(&s->memo, key);
    if (entry) {
        e.lower = entry->lower;
        e.upper = entry->upper;
        e.test = entry->test;
        e.pass = entry->pass;
    }
    return e;
}

void search_remember(Search *s, const Word *key, Estimate e, uint64_t effort)
{
    Entry *entry = memo_claim(&s->memo, key);
    if (e.lower > entry->lower)
        entry->lower = e.lower;
    if (e.upper < entry->upper) {
        entry->upper = e.upper;
        entry->test = e.test;
    }
    entry->pass = s->greedy.pass;
    entry->effort += (uint32_t)(effort < MOST_EFFORT ? effort : MOST_EFFORT);
}

/* The search: depth-first branch and bound over an AND/OR graph of sub-problems, with a memo. */
#ifndef NEXTPROBE_SEARCH_H
#define NEXTPROBE_SEARCH_H

#include <math.h>

#include "bounds.h"
#include "groups.h"
#include "memo.h"
#include "monitor.h"

/* Two costs closer than this part of them are the same: far under the 1e-9 that plans are compared
 * with. */
#define CLOSE 1e-12

/* What the search learns as it goes. */
typedef struct {
    double bit_price;     /* running guess of the dual price of a bit in the bounds */
    double going_price;   /* what a bit cost in the sub-problems solved */
} Rates;

/* How greedy plans are made. */
typedef struct {
    double share, trifle; /* odds of being here in a greedy plan; regret that it leaves alone */
    int tries;            /* tests that it tries out */
    int memo_only;        /* whether one that this pass put into the memo is enough */
    uint8_t pass;         /* goes up each time plans are made finer */
    uint64_t spare;       /* nodes that may still be looked at when stopped */
} Greedy;

typedef struct {
    const Problem *problem;
    PairBound pairs;
    double *byte_mass;    /* see `byte_masses` */
    Memo memo;
    Frame *frames;        /* [tests + 2] made when first needed */
    Monitor monitor;
    Rates rates;
    Greedy greedy;
    Groups *groups;       /* the group bound, once it is climbed to */
    int most_in_pairs;    /* classes up to which the pair bound is used */
    int level;            /* of the bounds at hand: raised when there are new ones */
    uint64_t cutoffs[CUTOFFS];
} Search;

/* What the search can say of a sub-problem; exact when `upper` meets `lower`. `test` is a pick: a
 * test with the bundle of leads brought out for it, or NO_TEST. */
typedef struct {
    double lower, upper;
    int test, remedy;
    int pass;             /* of the greedy plans that last came here */
} Estimate;

static inline int is_exact(Estimate e)
{
    return e.upper < INFINITY && e.upper <= e.lower + CLOSE * e.upper;
}

/* ---- space.c ---- */

/* Returns 0 when memory is short or the key too long; `search_close` is due in any case. */
int search_open(Search *s, const Problem *p, size_t most_bytes);
void search_close(Search *s);

/* Room for the frame of a depth; returns 0, and stops the search, when memory is short. */
int search_frame(Search *s, int depth);

/* Take stock of a node in the frame of its depth. NULL when memory is short. */
Frame *search_enter(Search *s, const Node *node, int depth);

Estimate search_recall(Search *s, const Word *key);
void search_remember(Search *s, const Word *key, Estimate estimate, uint64_t effort);

/* ---- lookahead.c ---- */

/* The bounds to be used on a node of so many members. */
unsigned search_bounds(const Search *s, const Frame *f);

/* A lower bound of the node in the frame, put into the memo. Where the group bound reaches `limit`,
 * the others are left for later. */
double search_bound(Search *s, Frame *f, const Node *node, const Word *key, double limit);

/* Branch an entry and bound its children, the cheap bounds first; returns their sum with the
 * entry's own cost, as soon as it reaches `limit`. */
double search_look_ahead(Search *s, const Node *node, int entry, double limit, int depth);

/* Raise the value of a child; returns the sum of all with it. */
double raise_child(Frame *f, int outcome, double value, double sum);

/* Bounds of doing each entry first, into `ranking.lower`. */
void search_floors(Search *s, Frame *f, const Node *node);

/* What the answers of a test, all for nothing, would still leave to pay, their sum being `sum`. */
double revelation_floor(const Problem *p, const Frame *f, const Node *node, int entry, double sum);

/* Estimates of doing each entry first where nothing is known yet: minutes less the worth of the
 * bits told. */
void guess_by_bits(const Search *s, Frame *f);

/* Order of trial, by the estimates. */
void sort_entries(Frame *f);

/* ---- branch.c ---- */

/* Least cost from here if under `budget`, else a lower bound of it that reaches `budget`. */
Estimate search_solve(Search *s, const Node *node, double budget, int depth);

/* The tests of least cost to do first here, best first, and their costs; returns how many. */
int search_rank(Search *s, const Node *node, int most, int *tests, double *costs);

/* ---- rollout.c ---- */

/* Cost of the greedy plan from here; its first step into `choice`, if not NULL. */
double search_rollout(Search *s, const Node *node, int depth, Estimate *choice);

/* Cost of the greedy plan whose steps are tried out before they are taken. */
double search_rollout_twice(Search *s, const Node *root);

/* What to do here by the best plan the memo knows, else by a greedy one. */
Estimate search_follow(Search *s, const Node *node, int depth);

/* Tests times classes: a visit takes time in proportion to it. */
double search_size(const Problem *p);

/* Nodes that a stopped search may look at to finish a plan. */
uint64_t search_spare(const Problem *p);

/* ---- family.c ---- */

/* The sets of classes at the nodes of the best plan, and the group bound over them; NULL when
 * memory is short. */
Groups *search_groups(Search *s, const Node *root);

/* ---- proof.c ---- */

/* Solve from the root. The group bound is looked for after `patience` visits. */
Estimate search_prove(Search *s, const Node *root, uint64_t patience);

/* Sub-problems to look at before the group bound, which is dear, is looked for. */
uint64_t search_patience(const Problem *p);

#endif

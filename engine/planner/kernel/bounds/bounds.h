/* Lower bounds of one sub-problem. Their proofs stand in the module page,
 * `engine/planner/__init__.py`. */
#ifndef NEXTPROBE_BOUNDS_H
#define NEXTPROBE_BOUNDS_H

#include "frame.h"

/* Which bound was sharpest on a sub-problem or cut a test off, for the account of the proof. */
enum {
    CUTOFF_INFORMATION, CUTOFF_PAIRS, CUTOFF_ACCESS, CUTOFF_FIRST_TEST, CUTOFF_REVELATION,
    CUTOFF_LOOK_AHEAD, CUTOFF_GROUPS, CUTOFFS
};

/* Part of the regrets that the access bound may count; the other bounds count the rest. */
#define ACCESS_SHARE 0.25

/* Two classes that can't share a verdict for nothing. */
struct Pair {
    int one, other;
    double joint_regret; /* least regret of both under one remedy */
    double stake;        /* what puts it first: dear to part, by few tests, dear to confuse */
};

/* Ways to tests: a place with openings, each once. */
typedef struct {
    int count;
    int *of_test;        /* [tests] */
    int *place;          /* [routes] */
    Word *need;          /* [routes] openings */
} Routes;

/* What the pair bound looks up; never written to once made. */
typedef struct {
    int words;           /* of a set of tests */
    int count;
    struct Pair *pair;   /* [pairs] the most at stake first */
    Word *separators;    /* [classes][classes][words] tests that can part the two */
    Word *fulfillers;    /* [64][words] tests that can meet a requirement */
    Routes routes;
} PairTables;

/* What the pair bound writes on. */
typedef struct {
    double *slack;       /* [classes][tests + places + openings], then [classes] weights */
    double *route_least; /* [routes] below nothing between uses */
    int *route_list;     /* [routes] */
    double *draws;       /* [places + openings] nothing between uses */
    int *member_of;      /* [classes] */
} PairScratch;

/* What the bounds of any node need beside the problem. */
typedef struct {
    PairTables tables;
    PairScratch scratch;
} PairBound;

/* Return 0 when memory is short; `pair_bound_free` takes what was made in part. */
int pair_bound_make(const Problem *p, PairBound *bound);
void pair_bound_free(PairBound *bound);

/* A lower bound of the cost from here, of those switched on in `bounds`. `bit_price` is a first
 * guess at the dual price of a bit. */
double lower_bound(const Problem *p, PairBound *pairs, unsigned bounds, Frame *f, const Node *node,
                   double bit_price);

/* Minutes with shares of the set-up, and information gain, of each test here. */
void price_tests(const Problem *p, Frame *f, const Node *node);

/* The information bound at the best dual price found, from a first guess at it. */
double information_bound(const Problem *p, Frame *f, const Node *node, double bit_price);

/* Set-up minutes for openings that can't be done without. */
double access_bound(const Problem *p, const Frame *f, const Node *node);

/* Every two classes are parted by some test on the way of both, or share a leaf. */
double pairs_bound(const Problem *p, PairBound *pairs, Frame *f, const Node *node);

#endif

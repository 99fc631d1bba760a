/* Working memory of one level of the search: what a node has, and what bounds say of it.
 *
 * Arrays of [tests] run over the tests that tell something here or meet a requirement. Those of
 * [entries] go on with the same tests, more leads brought out with them; bounds look at the tests
 * alone. */
#ifndef NEXTPROBE_FRAME_H
#define NEXTPROBE_FRAME_H

#include "node.h"

enum { MOST_REVELATIONS = 8 };

typedef struct {
    int count, *id;        /* [classes] the classes in the set */
    double mass;           /* of all of them */
} Members;

/* Ending here with the best remedy of those that may be named. */
typedef struct {
    double cost;
    int remedy;
} Stop;

/* What can be done next. */
typedef struct {
    int count, entries;    /* tests; tests and tests with bundles of leads */
    int *id;               /* [entries] test */
    int *base, *bundle;    /* [entries] place among the tests; leads that are brought out, too */
    double *lead_minutes;  /* [entries] minutes of those leads */
    double *minutes;       /* [entries] with set-up from here; no end where it must wait */
    double *mass;          /* [outcomes] mass of each outcome of the tests here */
    Word *set;             /* [test words] the tests here */
} Candidates;

/* The information bound: one Lagrange multiplier, the dual price of a bit. */
typedef struct {
    double bit_price;      /* minutes a bit */
    double *minutes;       /* [tests] with a share of the set-up */
    double *gain;          /* [tests] information gain: mass times bits that the answer tells */
    double *full_price;    /* [tests] price of a bit from which all mass had best do it */
    double *zero_price;    /* [tests] price of a bit up to which none had */
    double *reduced_profit; /* [tests] at the price of the bound */
    double *bits;          /* [levels][classes] bits that name the class's remedy cluster */
    double regret_share;   /* part of the regrets that is not counted by the access bound */
    double bound;
} InformationDual;

/* The pair bound: its value, and what is left of each test's minutes. */
typedef struct {
    double bound;
    double *reduced_cost;  /* [tests] slack of all classes for the test and the way to it */
} PairDual;

/* Doing each test first. */
typedef struct {
    double *lower, *guess; /* [entries] bound and estimate */
    int *order;            /* [entries] by `guess` */
} Ranking;

typedef struct {
    Node *node;            /* [most outcomes] */
    double *value;         /* [most outcomes] bound or value of each child, this level's units */
    Node part;             /* scratch for parts of children */
} Children;

/* Tests whose children are bounded well. */
typedef struct {
    int count, test[MOST_REVELATIONS];
} Revelations;

typedef struct {
    double *values;        /* [classes + remedies] */
    int *counts;           /* [places + 64] */
} Scratch;

typedef struct {
    Members members;
    Stop stop;
    Candidates tests;
    InformationDual information;
    PairDual pairs;
    Ranking ranking;
    Children children;
    Revelations revelations;
    Scratch scratch;
    int has_bounds;        /* whether `lower_bound` has been here since the node was entered */
    int sharpest;          /* which bound set the last lower bound */
} Frame;

/* Mass of the classes in each byte of a set, [bytes of a set][256], so that a set weighs in a few
 * look-ups; NULL when memory is short. The caller frees it. */
double *byte_masses(const Problem *p);

/* Returns 0 when memory is short; `frame_free` takes a frame made in part. */
int frame_make(const Problem *p, Frame *f);
void frame_free(const Problem *p, Frame *f);

/* Take stock of a node: members, cost of stopping, candidates. `above` is the parent's frame, NULL
 * at the root: tests that told nothing there tell nothing here. */
void frame_enter(const Problem *p, const double *byte_mass, Frame *f, const Frame *above,
                 const Node *node);

/* The children of an entry, one for each outcome. */
void frame_branch(const Problem *p, Frame *f, const Node *node, int entry);

/* The leads of a bundle that are not out yet, that some test here asks for and that are in reach
 * once it is opened for the test. */
Word frame_leads(const Problem *p, const Frame *f, const Node *node, int test, int bundle);

/* A test and the bundle brought out for it, in one number. */
int frame_pick(const Problem *p, const Frame *f, int entry);

/* Whether the child's last answer, by the short that it showed, took away a test that still tells
 * or could show what is required. */
int frame_loses_test(const Problem *p, const Frame *f, const Node *node, const Node *child);

#endif

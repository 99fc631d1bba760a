/* The reduced problem, read only, each part of it by what it is about.
 *
 * Numbers are bench minutes times probability mass ("weighted minutes"). A set of fault classes is
 * a row of 64-bit words. Matrices are row-major, sizes in square brackets. Theory and notation
 * stand in `engine/planner/__init__.py`; `reduction.py` makes the arrays. */
#ifndef NEXTPROBE_PROBLEM_H
#define NEXTPROBE_PROBLEM_H

#include <stddef.h>
#include <stdint.h>

typedef uint64_t Word;

/* The bounds that can be switched off; `bounds.py` has the same numbers. */
enum {
    BOUND_INFORMATION = 1, /* dual price of information against the tests' reduced profits */
    BOUND_SETUP = 2,       /* openings and changes of place charged to the tests that need them */
    BOUND_FIRST_TEST = 4,  /* either stop here or pay at least the cheapest test */
    BOUND_REVELATION = 8,  /* a test's answer for nothing is worth no more than it saves */
    BOUND_ROLLOUT = 16,    /* first upper bound from greedy plans */
    BOUND_ACCESS = 32,     /* openings without which what remains can't be told apart */
    BOUND_PAIRS = 64,      /* every two classes are parted by some test or share a leaf */
    BOUND_GROUPS = 128     /* bits with a dual price of their own within each group of classes */
};

#define MIXED 255   /* in `RowClasses.answer`: the class splits between outcomes of this test */
#define NO_TEST (-1)

/* Beside the openings: a short was found in the power path. */
#define SHORT_FOUND ((Word)1 << 63)

/* Fault classes, the heaviest first. */
typedef struct {
    int count, words;        /* classes; words of a set of them */
    const double *weight;    /* [classes] probability mass */
} Classes;

/* Ways of ending; regret is what a remedy costs a class more than the best one. */
typedef struct {
    int count;
    const double *regret;       /* [classes][remedies] minutes */
    const double *joint_regret; /* [classes][classes] least sum of both regrets under one remedy */
    const Word *requirements;   /* [remedies] what must have been shown before it is named */
} Remedies;

/* Classes clustered by the remedies that serve them, at some levels of regret. */
typedef struct {
    int levels;
    const int *id;                /* [levels][classes] cluster of a class */
    const double *outside_regret; /* [levels][classes] least regret outside the cluster */
} Clusters;

typedef struct {
    int count;
    const double *minutes;    /* [tests] */
    const Word *need;         /* [tests] openings, closed under what they need, as a bit mask */
    const int *place;         /* [tests] index of (supply, rig) */
    const Word *bars;         /* [tests] openings, SHORT_FOUND: with any of them it is not done */
    const Word *requirements; /* [tests] what must have been shown before it is done */
} Tests;

/* Outcomes of all tests, those of each test in a run: the columns of the tables. */
typedef struct {
    int count, most;          /* in all; the most of any test */
    const int *first;         /* [tests + 1] first outcome of a test */
    const double *odds;       /* [outcomes][classes] odds of an outcome under a class */
    const Word *support;      /* [outcomes][words] classes that can show it */
    const Word *short_bit;    /* [outcomes] SHORT_FOUND where it shows a short, else 0 */
    const Word *fulfilment;   /* [outcomes] requirements that it meets */
} Outcomes;

/* Row classes: classes whose odds in a test are the same row. */
typedef struct {
    const int *id;            /* [tests][classes] which of `members` holds the classes like this */
    const Word *members;      /* [row classes][words] classes of equal odds in a test */
    const Word *mixed;        /* [tests][words] classes whose row is split between outcomes */
    const uint8_t *answer;    /* [tests][classes] the one outcome, or MIXED */
    int slots;                /* tests with split rows */
    const int *slot;          /* [tests] place in the evidence code of such a test, or -1 */
} RowClasses;

/* Odds that two row classes of one test show different answers. */
typedef struct {
    const uint16_t *row;      /* [tests][classes] number of the row class among those of the test */
    const int *rows;          /* [tests] row classes */
    const int *first;         /* [tests + 1] where a test's square of `odds` begins */
    const double *odds;       /* [rows][rows] for each test */
} RowPairs;

/* Places: a supply arrangement with a rig. */
typedef struct {
    int count;
    const double *direct;     /* [places][places] set-up minutes with nothing opened */
    const double *hands_in;   /* [places][places] set-up minutes through the dead arrangement */
    const double *entry;      /* [places] least minutes of coming from any other place */
} Places;

/* Openings, and leads among them: points brought out on a lead. */
typedef struct {
    int count;
    const double *minutes;     /* [64] */
    const Word *prerequisites; /* [openings + 1] what must be open before each is made */
    const Word *leads;         /* [1] openings that are leads */
    int bundles;
    const Word *bundle;        /* [bundles] leads brought out together; the first one is none */
} Openings;

/* Sets of openings that one can have made, and what can be told apart with them. */
typedef struct {
    int count;
    const Word *openings;     /* [sets] */
    const int *next;          /* [sets][openings] the set with one more opening, or -1 */
    const int *cell;          /* [sets][classes] classes that no test within the set can part */
} AccessSets;

/* A packing of directed cuts: set-up minutes paid by every way into a set of places (R. T. Wong,
 * Mathematical Programming 28, 1984; from memory). */
typedef struct {
    int count;
    const double *minutes;    /* [cuts] */
    const uint8_t *behind;    /* [cuts][places] 1 where the cut is crossed on the way there */
} DirectedCuts;

/* What classes must have shown before the remedies that serve them are named. */
typedef struct {
    const Word *of_class;     /* [classes] requirements of the remedies worth naming for it */
    const int *due_first;     /* [classes + 1] where what a class must meet begins in `due` */
    const int *due;           /* requirements, by bit, without which it loses `forfeit` at least */
    const double *forfeit;    /* least regret of the class under remedies that don't ask for them */
} Requirements;

typedef struct {
    Classes classes;
    Remedies remedies;
    Clusters clusters;
    Tests tests;
    Outcomes outcomes;
    RowClasses rows;
    RowPairs row_pairs;
    Places places;
    Openings openings;
    AccessSets access;
    DirectedCuts cuts;
    Requirements requirements;
    unsigned bounds;          /* those switched on */
} Problem;

static inline int outcome_count(const Problem *p, int test)
{
    return p->outcomes.first[test + 1] - p->outcomes.first[test];
}

/* Words of a set of tests. */
static inline int test_words(const Problem *p)
{
    return (p->tests.count + 63) / 64 + 1;
}

/* Odds that classes j and k show different answers in a test. */
static inline double separation(const Problem *p, int test, int j, int k)
{
    const uint16_t *row = p->row_pairs.row + (size_t)test * p->classes.count;
    return p->row_pairs.odds[p->row_pairs.first[test] + row[j] * p->row_pairs.rows[test] + row[k]];
}

#endif

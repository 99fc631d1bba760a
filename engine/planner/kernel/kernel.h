/* The planner's search kernel: what its parts share.
 *
 * Numbers are bench minutes times probability mass ("weighted minutes"). A set of fault classes is
 * a row of 64-bit words. `engine/planner/__init__.py` holds the theory; names here follow it. */
#ifndef NEXTPROBE_KERNEL_H
#define NEXTPROBE_KERNEL_H

#include <stdint.h>
#include <stddef.h>

typedef uint64_t Word;

/* The bounds that can be switched off; `bounds.py` has the same numbers. */
enum {
    BOUND_INFORMATION = 1, /* price of information against what the tests can sell */
    BOUND_SETUP = 2,       /* openings and changes of place charged to the tests that need them */
    BOUND_FIRST_TEST = 4,  /* either stop here or pay at least the cheapest test */
    BOUND_REVELATION = 8,  /* a test's answer for nothing is worth no more than it saves */
    BOUND_ROLLOUT = 16,    /* first upper bound from greedy plans */
    BOUND_ACCESS = 32,     /* openings without which what remains can't be told apart */
    BOUND_PAIRS = 64,      /* every two classes are parted by some test or share a leaf */
    BOUND_GROUPS = 128     /* bits with a price of their own within each group of classes */
};

/* Which bound was sharpest on a sub-problem or cut a test off, for the account of the proof. */
enum {
    CUT_INFORMATION, CUT_PAIRS, CUT_ACCESS, CUT_FIRST_TEST, CUT_REVELATION, CUT_LOOK_AHEAD,
    CUT_GROUPS, CUTS
};

/* Part of the regrets that the access bound may count; the market counts the rest. */
#define ACCESS_SHARE 0.25

#define MIXED 255   /* in `shown`: the class splits between outcomes of this test */
#define SPENT 255   /* in a code: done, and out of the weights */
#define NO_TEST (-1)

/* Beside the openings made: a short was found in the power path. */
#define SHORT_FOUND ((Word)1 << 63)

/* The reduced problem, read only. Matrices are row-major, sizes in square brackets. */
struct Pair {
    int one, other;
    double confused; /* least regret of both under one remedy */
    double stake;    /* what puts it first: dear to part, by few tests, dear to confuse */
};

typedef struct {
    int classes, words, tests, columns, remedies, places, levels, slots, most_outcomes;
    const double *weight;    /* [classes] probability mass */
    const double *regret;    /* [classes][remedies] minutes lost by that remedy on that class */
    const int *first;        /* [tests + 1] first column of a test */
    const double *column;    /* [columns][classes] odds of an outcome under a class */
    const Word *support;     /* [columns][words] classes that can show the outcome */
    const Word *mixed;       /* [tests][words] classes whose row is split */
    const uint8_t *shown;    /* [tests][classes] the one outcome, or MIXED */
    const int *alike;        /* [tests][classes] which row of `rows` holds the classes like this */
    const Word *rows;        /* [..][words] classes with equal odds in a test */
    const int *slot;         /* [tests] place in the evidence code of a split test, or -1 */
    const double *minutes;   /* [tests] */
    const Word *need;        /* [tests] openings, closed under `after`, as a bit mask */
    const int *place;        /* [tests] index of (supply, rig) */
    const Word *barred;      /* [tests] openings, SHORT_FOUND: with any of them it is not done */
    const Word *sets;        /* [columns] SHORT_FOUND where the outcome shows a short, else 0 */
    const double *direct;    /* [places][places] set-up minutes with nothing opened */
    const double *hands_in;  /* [places][places] set-up minutes through the dead arrangement */
    const double *entry;     /* [places] least minutes of coming from any other place */
    const double *opening;   /* [64] minutes of each opening */
    const int *cluster;      /* [levels][classes] remedy cluster of a class */
    const double *foreign;   /* [levels][classes] least regret outside the cluster */
    int accesses, openings;
    const Word *access;      /* [accesses] sets of openings that one can have made */
    const int *beyond;       /* [accesses][openings] the set with one more opening, or -1 */
    const int *cell;         /* [accesses][classes] classes that no test within it can part */
    const uint16_t *kind;    /* [tests][classes] number of the class's row among the test's rows */
    const int *apart_at;     /* [tests + 1] where the test's square of `apart` begins */
    const double *apart;     /* [kinds][kinds] odds that two rows of a test show different answers */
    const int *kinds;        /* [tests] rows that differ */
    const double *confusion; /* [classes][classes] least regret of both under one remedy */
    int tolls;               /* set-ups that nobody comes round */
    const double *toll;      /* [tolls] minutes */
    const uint8_t *behind;   /* [tolls][places] 1 where a toll is paid on the way there */
    const Word *notes;       /* [columns] requirements that the outcome meets */
    const Word *wants;       /* [remedies] requirements before it is named */
    const Word *awaits;      /* [tests] requirements before it is done */
    const Word *owed;        /* [classes] requirements of the remedies worth naming for it */
    const int *due_from;     /* [classes + 1] where what a class must meet begins in `due` */
    const int *due;          /* requirements, by bit, without which it loses `forfeit` at least */
    const double *forfeit;   /* least regret of the class under remedies that don't want it */
    const Word *leads;       /* [1] openings that bring a point out on a lead */
    const Word *after;       /* [openings + 1] what must be open before each opening is made */
    int bundles;
    const Word *bundle;      /* [bundles] leads brought out together; the first one is none */
    unsigned bounds;
    int test_words, gates, pairs; /* from here on the kernel's own, made by `ways_make` */
    struct Pair *pair;       /* [pairs] that can't share a verdict, the most at stake first */
    Word *parts;             /* [classes][classes][test_words] tests that can part the two */
    Word *meeting;           /* [64][test_words] tests that can meet a requirement */
    int *gate;               /* [tests] number of its place and openings among the ways to tests */
    int *gate_place;         /* [gates] */
    Word *gate_need;         /* [gates] */
    double *purse;           /* [classes][tests + places + openings] scratch of the pair bound */
    double *gate_room, *took; /* [gates], [places + openings] scratch */
    int *gate_met, *seat;    /* [gates], [classes] scratch */
    double *chunk;           /* [bytes of a set][256] mass of the classes in a byte; kernel's own */
} Problem;

/* A sub-problem: classes still in question, their relative weights, and where the bench stands. */
typedef struct {
    Word *set;            /* [words] */
    Word opened;          /* openings made, and SHORT_FOUND */
    Word noted;           /* requirements met */
    int place;
    int coded;            /* whether any code is set */
    uint8_t *code;        /* [slots] 0 not done, 1 + outcome done, SPENT done, out of the weights */
    const double *weight; /* [classes] canonical weights, valid for members */
    double *own;          /* [classes] room for weights of its own */
    double scale;         /* what one canonical unit weighs in the parent's units */
} Node;

/* Working room of one level of the search; [tests] arrays run over the tests that tell something or
 * meet a requirement. Those of [entries] go on with the same tests, more leads brought out with
 * them; bounds look at the tests alone. */
typedef struct {
    int members, *member;  /* classes in the set */
    double total, stop;    /* their mass; cost of stopping with `remedy` */
    int remedy;
    int tests, entries, *test; /* [entries] */
    int *base, *bundle;    /* [entries] place among the tests; leads that are brought out, too */
    double *more;          /* [entries] minutes of those leads */
    double *mass;          /* [columns] mass of each outcome of the tests at hand */
    double *cost;          /* [entries] minutes with set-up from here; no end where it awaits */
    double *price;         /* [tests] minutes with a share of the set-up, for the bounds */
    double *info;          /* [tests] mass times bits that the answer tells */
    double *full, *none;   /* [tests] price of a bit from which it sells to all, to none */
    double *kept;          /* [tests] minutes for it that the pair bound left in all purses */
    Word *useful;          /* [test_words] the tests that tell something */
    double pairs;          /* the pair bound */
    double *profit;        /* [tests] what it earns at the price of the bound */
    double *lower, *guess; /* [entries] bound and estimate of doing each test first */
    int *order;            /* [entries] */
    double *bits;          /* [levels][classes] bits that name the class's remedy cluster */
    double bound;          /* the information bound, for the set-ups shared */
    double bit_price;      /* the price of a bit it was found with */
    double share;          /* part of the regrets that bounds other than the access bound count */
    Node *child;           /* [most_outcomes] */
    double *value;         /* [most_outcomes] bound or value of each child, this level's units */
    Node part;             /* scratch for parts of children */
    double *room;          /* [classes + remedies] scratch */
    int *tally;            /* [places + 64] scratch */
    int shown, reveal[8];  /* tests whose children are known well */
    int bounded;           /* whether `lower_bound` has been here since the node was entered */
    int sharpest;          /* which bound set the last lower bound */
} Frame;

/* What the memo holds of a sub-problem. */
typedef struct {
    uint64_t hash;
    double lower, upper;
    int32_t test;     /* what achieves `upper`: a pick (`pick_of`), or NO_TEST to stop */
    uint32_t effort;  /* expansions spent below */
    uint8_t used, bounded;
} Entry;

typedef struct {
    unsigned char *slots;
    size_t stride, count, capacity, most;
    size_t key_words;
} Memo;

int memo_open(Memo *memo, size_t key_words, size_t most_bytes);
void memo_close(Memo *memo);
Entry *memo_find(Memo *memo, const Word *key);
Entry *memo_claim(Memo *memo, const Word *key);

double stop_cost(const Problem *p, const Node *node, const Frame *f, double *room, int *remedy);
double setup_minutes(const Problem *p, const Node *node, int test);
double lower_bound(const Problem *p, Frame *f, const Node *node, double price);
void price_tests(const Problem *p, Frame *f, const Node *node);
double first_test_bound(const Frame *f);
double access_bound(const Problem *p, const Frame *f, const Node *node);
double pairs_bound(const Problem *p, Frame *f, const Node *node);
int ways_make(Problem *p);
void ways_free(Problem *p);

#endif

/* The dual of the group bound, in its parts: what its files share, and nobody else reads.
 *
 * Any prices, reference distributions and shares give a bound; the proof stands in the module
 * page, `engine/planner/__init__.py`, and names here follow its letters. A membership is a class in
 * a group. */
#ifndef NEXTPROBE_GROUP_DUAL_H
#define NEXTPROBE_GROUP_DUAL_H

#include "adam.h"
#include "groups.h"

/* The classes of the root that prices are found for; they have numbers of their own here. */
typedef struct {
    int count;
    int *id, *local;         /* [classes] the problem's number; [the problem's classes] ours */
    double *weight;          /* [classes] */
} RootClasses;

typedef struct {
    int count;               /* groups */
    int *first;              /* [groups + 1] first membership of a group */
    int *member, *group;     /* [memberships] its class, its group */
    int *class_first;        /* [classes + 1] */
    int *of_class;           /* [memberships] those of a class in a run */
} Family;

/* Dual prices: minutes a bit, for each membership. */
typedef struct {
    Variables log;           /* [memberships] */
    double *unit, *mass;     /* [memberships] the price; v_g(k), it times the class's weight */
    double *sum, *log_sum;   /* [groups] v_g, its log */
    double *sum_gradient;    /* [groups] gradient by way of the sum */
    double *of_class;        /* [classes] prices of a class, all memberships */
} Prices;

/* Row classes of each test. */
typedef struct {
    uint16_t *id;            /* [tests][classes] number of the class's row among the test's */
    int *count;              /* [tests] */
    size_t *first;           /* [tests + 1] where a test's rows begin */
    double *odds;            /* [rows][most outcomes] */
    double *negentropy;      /* [rows] sum of p log p */
} TestRows;

/* Terms sum_k v_g(k) KL(row of k in t || q_gt): one for each group that a test splits. */
typedef struct {
    size_t *first;           /* [tests + 1] */
    int *group;              /* [terms] */
    size_t *logit_first;     /* [terms + 1] */
    Variables logit;         /* of the outcomes in q_gt */
    double *reference;       /* scratch: q_gt, [terms of a test][most outcomes] */
    double *divergence;      /* scratch: KL by term and row */
} Terms;

/* Of each test, [tests][classes]. */
typedef struct {
    double *cost;            /* c_t(k): minutes with shares of the cuts */
    double *unit;            /* reduced profit on a unit of the class, below nothing too */
    double *activity;        /* part of the class that does the test, by the smooth maximum */
} Profits;

/* Directed cuts and openings that can't be escaped, shared out class by class. */
typedef struct {
    int count, *first, *test; /* [cuts + 1], [cut tests] the tests behind a cut */
    double *minutes;         /* [cuts] */
    double *share;           /* [cut tests][classes] summing to 1 over the tests of a cut */
    double *sum;             /* [classes] scratch */
} CutShares;

/* Leaves whose remedy serves a class well. */
typedef struct {
    int *first, *member;     /* [remedies + 1], [leaves] the class */
    Variables logit;         /* [leaves] log of q_gr(k), not yet summing to 1 */
    double *cost, *choice;   /* [leaves] minutes by it; mass that ends so, by the smooth minimum */
    double *log_mass;        /* [leaves x memberships] log of a group's mass among them */
    double *least;           /* [classes] least cost of any leaf */
} Leaves;

/* Leaves whose remedy serves a class badly. */
typedef struct {
    Variables logit;         /* [1] of the share of q_gr that is left to them */
    double *regret, *choice; /* [classes] the least; mass that ends so */
} BadLeaves;

/* What serves all nodes, once the climb is over. */
typedef struct {
    double *leaf_cost;           /* [classes] but for the logs of its groups' masses */
    int *payer_first, *payer;    /* [tests + 1], [..] classes that a test may profit from */
    int *payer_last;             /* [tests] end of those that it profits from with all cuts due */
    Word *cut_set;               /* [tests] the cuts on the way to it */
    int *cut_first;              /* [tests + 1] */
    int *cut, *cut_share;        /* [..] the cuts again, and which row of shares is theirs */
} NodeTerms;

struct Groups {
    const Problem *problem;
    RootClasses classes;
    Family family;
    Prices prices;
    TestRows rows;
    Terms terms;
    Profits profits;
    CutShares cuts;
    Leaves leaves;
    BadLeaves rest;
    NodeTerms node;
    Adam adam;
    double best;             /* the greatest bound so far */
    double *by_group;        /* [groups + classes] scratch, nothing between uses */
    double *by_class;        /* [classes] scratch */
};

/* Each part is made after those above it; they return 0 when memory is short. */
int family_make(Groups *g, const GroupSets *sets, const Node *root, double bit_price);
void family_free(Groups *g);
int profits_make(Groups *g);
void profits_free(Groups *g);
int cut_shares_make(Groups *g, const Node *root);
void cut_shares_free(Groups *g);
int leaves_make(Groups *g);
void leaves_free(Groups *g);
void node_terms_free(Groups *g);

/* Prices from their logs, and the groups' masses. */
void prices_spread(Groups *g);
void prices_step(Groups *g);

/* Greatest reduced profit of a test over all classes; adds to gradients smoothed at `temperature`
 * minutes, and steps the test's reference distributions. */
double test_profit(Groups *g, int test, double temperature);

/* Move each cut's shares to the tests that the class does, by multiplicative weights. */
void cut_shares_step(Groups *g);

/* What all classes pay at their leaves, bits never bought included; adds to gradients smoothed at
 * `temperature` minutes. */
double leaves_cost(Groups *g, double temperature);
void leaves_step(Groups *g);

/* The dual function where its variables stand: a lower bound of the root's cost. */
double dual_value(Groups *g, double temperature);

#endif

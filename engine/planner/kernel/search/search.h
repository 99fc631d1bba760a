/* The search itself: depth-first branch and bound with a memo. */
#ifndef NEXTPROBE_SEARCH_H
#define NEXTPROBE_SEARCH_H

#include "kernel.h"

enum { MOST_KEY = 96 };

/* The share of the time allowed that is spent, 0 where there is no limit. */
typedef double (*Spent)(void *self);

/* Called now and then; returns non-zero to stop the search. */
typedef int (*Poll)(void *self, double lower, double upper, uint64_t expanded);

typedef struct Groups Groups;

typedef struct {
    const Problem *problem;
    Problem coarse;       /* the same without what is dear on many classes: the pairs */
    Memo memo;
    Frame *frames;        /* [tests + 2] made when first needed */
    double bit_price;     /* running guess of the price of a bit in the bounds */
    double going_price;   /* what a bit cost in the sub-problems solved */
    double tightness;     /* bound over cost in the sub-problems solved */
    double share, trifle; /* odds of being here in a greedy plan; regret that it leaves alone */
    int breadth;          /* tests that a greedy plan looks at, at each node */
    int tries, known_only; /* tests that a greedy plan tries out; whether one known is enough */
    uint64_t expanded, visits, cuts[CUTS];
    double root_lower, root_upper;
    int stopped, broken, paused;
    Groups *groups;       /* prices by groups of classes, once they are found */
    int most_in_pairs;    /* classes up to which pairs are looked at */
    int level;            /* of the bounds at hand: raised when there are new ones */
    uint64_t spare;       /* nodes that may still be looked at when stopped */
    uint64_t poll_every;  /* visits between looks at the clock: fewer where each is dear */
    uint64_t patience;    /* visits after which the search pauses */
    Poll poll;
    Spent spent;
    void *self;
} Search;

/* What is known of a sub-problem; exact when `upper` meets `lower`. `test` is a pick: a test with
 * the bundle of leads brought out for it, or NO_TEST. */
typedef struct {
    double lower, upper;
    int test, remedy;
} Known;

int search_open(Search *s, Problem *p, size_t most_bytes);
void search_close(Search *s);
int node_make(const Problem *p, Node *node);
void node_free(Node *node);
int search_root(const Problem *p, Node *node, Word opened, Word noted, int place);
int frame_ready(Search *s, int depth);
Frame *search_enter(Search *s, Node *node, int depth);
void search_branch(const Problem *p, const Node *node, int test, Word more, int outcome,
                   Node *child);
int node_size(const Problem *p, const Node *node);
int node_settled(const Problem *p, const Node *node);
Word search_leads(const Problem *p, const Frame *f, const Node *node, int test, int bundle);
int pick_of(const Problem *p, const Frame *f, int i);
int search_loses(const Problem *p, const Frame *f, const Node *node, const Node *child);
void search_key(const Search *s, const Node *node, const int *tests, int many, Word *key);
Known search_solve(Search *s, Node *node, double budget, int depth);
double search_rollout(Search *s, Node *node, int depth, Known *choice);
Known search_follow(Search *s, Node *node, int depth);
int search_rank(Search *s, Node *node, int many, int *tests, double *costs);
int outcomes_of(const Problem *p, int test);
void search_branch_all(const Problem *p, Frame *f, const Node *node, int i);
Known search_recall(Search *s, const Word *key);
void search_remember(Search *s, const Word *key, Known known, uint64_t effort);
void search_poll(Search *s);
void search_look(Search *s);
void search_resume(Search *s);
void search_order(Frame *f);
void search_guess(Search *s, Frame *f);
double search_look_ahead(Search *s, Node *node, int i, double limit, int depth);
double search_try_out(Search *s, Node *root);
Known search_prove(Search *s, Node *root, uint64_t patience);
uint64_t search_patience(const Problem *p);
int proven(Known known);
uint64_t search_spare(const Problem *p);

double groups_bound(Groups *g, const Frame *f, const Node *node);
void groups_floors(Groups *g, Frame *f, const Node *node);

#endif

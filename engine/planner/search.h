/* The search itself: depth-first branch and bound with a memo. */
#ifndef NEXTPROBE_SEARCH_H
#define NEXTPROBE_SEARCH_H

#include "kernel.h"

typedef struct Search Search;

/* Called now and then; returns non-zero to stop the search. */
typedef int (*Poll)(void *self, double lower, double upper, uint64_t expanded);

struct Search {
    const Problem *problem;
    Memo memo;
    Frame *frames;        /* [tests + 2] made when first needed */
    double price;         /* running guess of the price of a bit */
    uint64_t expanded, visits;
    double root_lower, root_upper;
    int stopped, broken;
    Poll poll;
    void *self;
};

/* What is known of a sub-problem; exact when `upper` meets `lower`. */
typedef struct {
    double lower, upper;
    int test, remedy;
} Known;

int search_open(Search *s, const Problem *p, size_t most_bytes);
void search_close(Search *s);
int node_make(const Problem *p, Node *node);
void node_free(Node *node);
int search_root(const Problem *p, Node *node, Word opened, int place);
Known search_solve(Search *s, Node *node, double budget, int depth);
double search_rollout(Search *s, Node *node, int depth, Known *choice);
Frame *search_enter(Search *s, Node *node, int depth);
Node *search_branch(Search *s, const Node *node, int test, int depth);
void search_key(const Search *s, const Frame *f, const Node *node, Word *key);
int proven(Known known);

#endif

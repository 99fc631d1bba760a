/* A sub-problem: the evidence so far and where the bench stands. */
#ifndef NEXTPROBE_NODE_H
#define NEXTPROBE_NODE_H

#include "problem.h"

#define SPENT 255   /* in a code: done, and out of the weights */

enum { MOST_KEY = 96 };

/* Classes still in question, their relative weights, and the state of the bench. */
typedef struct {
    Word *set;            /* [words] */
    Word openings;        /* openings, and SHORT_FOUND */
    Word fulfilment;      /* requirements met */
    int place;
    int has_code;         /* whether any code is set */
    uint8_t *code;        /* [slots] 0 not done, 1 + outcome done, SPENT done, out of the weights */
    const double *weight; /* [classes] canonical weights, valid for members */
    double *own;          /* [classes] room for weights of its own */
    double scale;         /* what one canonical unit weighs in the parent's units */
} Node;

/* Both return 0 when memory is short. */
int node_make(const Problem *p, Node *node);
int node_make_root(const Problem *p, Node *node, Word openings, Word fulfilment, int place);
void node_free(Node *node);

/* The sub-problem after an outcome of the test, `leads` brought out with it; its set is empty where
 * none can show it. */
void node_branch(const Problem *p, const Node *node, int test, Word leads, int outcome,
                 Node *child);

/* Words of a memo key; at most MOST_KEY of them can be worked with. */
size_t node_key_words(const Problem *p);

/* The memo key; `tests` are at least those that tell something or meet a requirement here. */
void node_key(const Problem *p, const Node *node, const int *tests, int count, Word *key);

/* Minutes of opening, supply and rig before the test can be done. */
double setup_minutes(const Problem *p, const Node *node, int test);

static inline int node_size(const Problem *p, const Node *node)
{
    int size = 0;
    for (int w = 0; w < p->classes.words; w++)
        size += __builtin_popcountll(node->set[w]);
    return size;
}

static inline int node_first(const Problem *p, const Node *node)
{
    int w = 0;
    while (w < p->classes.words - 1 && !node->set[w])
        w++;
    return w * 64 + __builtin_ctzll(node->set[w]);
}

/* Whether some member's odds in the test differ from those of `member`. */
static inline int node_tells(const Problem *p, const Node *node, int test, int member)
{
    const Word *like = p->rows.members
        + (size_t)p->rows.id[(size_t)test * p->classes.count + member] * p->classes.words;
    for (int w = 0; w < p->classes.words; w++)
        if (node->set[w] & ~like[w])
            return 1;
    return 0;
}

/* Requirements of the remedies worth naming for some member. */
static inline Word node_requirements(const Problem *p, const Node *node)
{
    Word requirements = 0;
    for (int w = 0; w < p->classes.words; w++)
        for (Word bits = node->set[w]; bits; bits &= bits - 1)
            requirements |= p->requirements.of_class[w * 64 + __builtin_ctzll(bits)];
    return requirements;
}

/* Whether an answer that some member can show meets one of these requirements. */
static inline int node_can_meet(const Problem *p, const Node *node, int test, Word requirements)
{
    const Outcomes *all = &p->outcomes;
    for (int c = all->first[test]; requirements && c < all->first[test + 1]; c++) {
        if (!(all->fulfilment[c] & requirements))
            continue;
        for (int w = 0; w < p->classes.words; w++)
            if (node->set[w] & all->support[(size_t)c * p->classes.words + w])
                return 1;
    }
    return 0;
}

/* Whether the test may still be done: not barred, and not done before where rows split. */
static inline int node_is_open_to(const Problem *p, const Node *node, int test)
{
    if (p->tests.bars[test] & node->openings)
        return 0;
    return p->rows.slot[test] < 0 || !node->code[p->rows.slot[test]];
}

/* Whether one class is left and whatever is best for it may be named. */
static inline int node_is_leaf(const Problem *p, const Node *node)
{
    return node_size(p, node) < 2 && !(node_requirements(p, node) & ~node->fulfilment);
}

#endif

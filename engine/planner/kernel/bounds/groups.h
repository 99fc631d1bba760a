/* The group bound: bits with a dual price of their own within each group of classes. */
#ifndef NEXTPROBE_GROUPS_H
#define NEXTPROBE_GROUPS_H

#include "frame.h"
#include "monitor.h"

/* The groups: sets of classes, those at the nodes of some plan. */
typedef struct {
    int count;
    Word *set;           /* [groups][words] */
    double *leaning;     /* [groups][classes] weights there over those at the root, the most 1 */
} GroupSets;

typedef struct Groups Groups;

/* For the sub-problems below `root`, of prices that begin near `bit_price`; NULL when memory is
 * short. `groups_free` takes NULL. */
Groups *groups_make(const Problem *p, const GroupSets *sets, const Node *root, double bit_price);
void groups_free(Groups *g);

/* Climb the dual function until the share `until` of the time is spent; returns the greatest bound
 * of the root's cost that was met. */
double groups_ascend(Groups *g, Monitor *m, double until);

/* Set down what serves all nodes, once the climb is over; returns 0 when memory is short. */
int groups_fix(Groups *g);

/* A lower bound of the cost from here. */
double groups_bound(Groups *g, const Frame *f, const Node *node);

/* Raise the bounds of doing each test first, `ranking.lower`: all members pay for it then, whether
 * or not it is worth it to them. */
void groups_floors(Groups *g, Frame *f, const Node *node);

#endif

/* The group bound: bits have a dual price of their own within each group of classes.
 *
 * The groups are the sets of classes at the nodes of the best plan known; the proof stands in the
 * module page, `engine/planner/__init__.py`. Any prices, reference distributions and shares give a
 * bound: `group_ascent.c` climbs to good ones at the root, `group_nodes.c` reads off what they say
 * of every node. Its parts: groups and prices in `group_family.c`, reduced profits of the tests in
 * `group_profits.c`, set-ups in `group_cuts.c`, leaves in `group_leaves.c`. */
#include <stdlib.h>
#include "group_dual.h"

Groups *groups_make(const Problem *p, const GroupSets *sets, const Node *root, double bit_price)
{
    Groups *g = calloc(1, sizeof *g);
    if (!g)
        return NULL;
    g->problem = p;
    if (family_make(g, sets, root, bit_price) && profits_make(g) && cut_shares_make(g, root)
        && leaves_make(g))
        return g;
    groups_free(g);
    return NULL;
}

void groups_free(Groups *g)
{
    if (!g)
        return;
    family_free(g);
    profits_free(g);
    cut_shares_free(g);
    leaves_free(g);
    node_terms_free(g);
    free(g);
}

/* Groups for the group bound: the sets of classes at the nodes of the best plan, first come first
 * served, up to four groups and 24 memberships a class. O(groups^2 x words of a set). */
#include <string.h>
#include "memory.h"
#include "search.h"

enum { GROUPS_A_CLASS = 4, MEMBERSHIPS_A_CLASS = 24 };

typedef struct {
    Search *search;
    const Node *root;
    GroupSets sets;
    int most;                     /* groups */
    size_t memberships, most_memberships;
} Collection;

static int has_set(const Collection *c, const Word *set)
{
    int words = c->search->problem->classes.words;
    for (int i = 0; i < c->sets.count; i++)
        if (!memcmp(c->sets.set + (size_t)i * words, set, words * sizeof(Word)))
            return 1;
    return 0;
}

static void add_set(Collection *c, const Node *node, int size)
{
    const Problem *p = c->search->problem;
    int classes = p->classes.count, words = p->classes.words;
    double *leaning = c->sets.leaning + (size_t)c->sets.count * classes, most = 0;
    memcpy(c->sets.set + (size_t)c->sets.count * words, node->set, words * sizeof(Word));
    for (int k = 0; k < classes; k++)
        if (node->set[k / 64] >> (k % 64) & 1) {
            leaning[k] = node->weight[k] / c->root->weight[k];
            most = leaning[k] > most ? leaning[k] : most;
        }
    for (int k = 0; k < classes; k++)
        leaning[k] /= most;
    c->sets.count++;
    c->memberships += size;
}

static void collect(Collection *c, const Node *node, int depth)
{
    Search *s = c->search;
    const Problem *p = s->problem;
    int size = node_size(p, node);
    if (size < 2 || c->sets.count >= c->most || c->memberships + size > c->most_memberships
        || has_set(c, node->set))
        return;
    add_set(c, node, size);
    Estimate e = search_follow(s, node, depth);
    Frame *f = e.test == NO_TEST ? NULL : search_enter(s, node, depth);
    if (!f || !search_frame(s, depth + 1))
        return;
    int test = e.test % p->tests.count;
    Word leads = frame_leads(p, f, node, test, e.test / p->tests.count);
    for (int o = 0; o < outcome_count(p, test); o++)
        node_branch(p, node, test, leads, o, &f->children.node[o]);
    for (int o = 0; o < outcome_count(p, test); o++)
        if (node_size(p, &f->children.node[o]))
            collect(c, &f->children.node[o], depth + 1);
}

Groups *search_groups(Search *s, const Node *root)
{
    const Problem *p = s->problem;
    int failure = 0, classes = node_size(p, root);
    Collection c = {.search = s, .root = root, .most = GROUPS_A_CLASS * classes,
                    .most_memberships = (size_t)MEMBERSHIPS_A_CLASS * classes};
    c.sets.set = zeroes((size_t)c.most * p->classes.words, sizeof(Word), &failure);
    c.sets.leaning = zeroes((size_t)c.most * p->classes.count, sizeof(double), &failure);
    Groups *g = NULL;
    if (!failure) {
        collect(&c, root, 0);
        g = groups_make(p, &c.sets, root, s->rates.bit_price);
    }
    free(c.sets.set);
    free(c.sets.leaning);
    return g;
}

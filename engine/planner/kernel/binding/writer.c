/* Plans as Python objects, equal sub-problems once. Takes as long as following the plan. */
#include "writer.h"

#include <math.h>

typedef struct {
    Search *search;
    PyObject *nodes, *index;
    int optimal;
} Writer;

enum { NO_CHILD = -1, EXCEPTION = -2 };

static long write_node(Writer *w, const Node *node, int depth);

static Estimate choose(Writer *w, const Node *node, int depth)
{
    if (w->optimal)
        return search_solve(w->search, node, INFINITY, depth);
    return search_follow(w->search, node, depth);
}

static PyObject *write_children(Writer *w, const Node *node, int test, Word leads, int depth)
{
    const Problem *p = w->search->problem;
    int outcomes = outcome_count(p, test);
    PyObject *children = PyTuple_New(outcomes);
    Frame *f = search_enter(w->search, node, depth);
    for (int o = 0; f && o < outcomes; o++)
        node_branch(p, node, test, leads, o, &f->children.node[o]);
    for (int o = 0; children && o < outcomes; o++) {
        const Node *child = f ? &f->children.node[o] : NULL;
        long at = f && node_size(p, child) ? write_node(w, child, depth + 1) : NO_CHILD;
        if (at == EXCEPTION)
            Py_CLEAR(children);
        else
            PyTuple_SET_ITEM(children, o, PyLong_FromLong(at));
    }
    return children;
}

static PyObject *write_members(const Frame *f)
{
    PyObject *members = PyTuple_New(f->members.count);
    for (int i = 0; members && i < f->members.count; i++)
        PyTuple_SET_ITEM(members, i, PyLong_FromLong(f->members.id[i]));
    return members;
}

static PyObject *describe(Writer *w, const Node *node, int depth)
{
    const Problem *p = w->search->problem;
    Estimate e = choose(w, node, depth);
    Frame *f = search_enter(w->search, node, depth);
    PyObject *members = f ? write_members(f) : NULL;
    int test = e.test == NO_TEST ? NO_TEST : e.test % p->tests.count;
    Word leads = f && test != NO_TEST ? frame_leads(p, f, node, test, e.test / p->tests.count) : 0;
    PyObject *children = test == NO_TEST ? PyTuple_New(0)
                                         : write_children(w, node, test, leads, depth);
    if (!members || !children) {
        Py_XDECREF(members);
        Py_XDECREF(children);
        return NULL;
    }
    Word openings = test == NO_TEST ? node->openings
                                    : node->openings | p->tests.need[test] | leads;
    int place = test == NO_TEST ? node->place : p->tests.place[test];
    return Py_BuildValue("(iiKiNy#N)", test, e.remedy,
                         (unsigned long long)(openings & ~SHORT_FOUND), place, members,
                         (const char *)node->code, (Py_ssize_t)p->rows.slots, children);
}

static PyObject *identity(const Writer *w, const Node *node)
{
    const Problem *p = w->search->problem;
    return Py_BuildValue("(y#KKiy#)", (const char *)node->set,
                         (Py_ssize_t)(p->classes.words * sizeof(Word)),
                         (unsigned long long)node->openings, (unsigned long long)node->fulfilment,
                         node->place, (const char *)node->code, (Py_ssize_t)p->rows.slots);
}

/* Index of the node in the list, written if new; EXCEPTION when Python raised something. */
static long write_node(Writer *w, const Node *node, int depth)
{
    PyObject *key = identity(w, node);
    if (!key)
        return EXCEPTION;
    PyObject *index = PyDict_GetItemWithError(w->index, key);
    long at = index ? PyLong_AsLong(index) : -1;
    if (at < 0) {
        PyObject *entry = describe(w, node, depth);
        PyObject *number = entry ? PyLong_FromSsize_t(PyList_GET_SIZE(w->nodes)) : NULL;
        int failure = !number || PyDict_SetItem(w->index, key, number)
            || PyList_Append(w->nodes, entry);
        at = failure ? EXCEPTION : PyLong_AsLong(number);
        Py_XDECREF(entry);
        Py_XDECREF(number);
    }
    Py_DECREF(key);
    return at;
}

PyObject *write_plan(Search *search, const Node *root, int optimal, long *at)
{
    Writer w = {search, PyList_New(0), PyDict_New(), optimal};
    *at = w.nodes && w.index ? write_node(&w, root, 0) : EXCEPTION;
    Py_XDECREF(w.index);
    if (*at < 0)
        Py_CLEAR(w.nodes);
    return w.nodes;
}

/* The Python module `_kernel`: `search`, `rank`, `price` and `clock`.
 *
 * The search runs without Python's lock, and takes it now and then to look for signals and to tell
 * its progress. */
#define PY_SSIZE_T_CLEAN
#include <Python.h>

#include <time.h>

#include "arrays.h"
#include "writer.h"

/* Seconds from which on there is no limit. */
static const double NO_LIMIT = 1e9;

/* Seconds between two reports of progress. */
static const double REPORT_SECONDS = 0.1;

/* ---- time, interruption, progress ---- */

typedef struct {
    PyThreadState *thread;
    PyObject *progress;
    double start, seconds, next_report;
    int exception; /* whether Python raised something */
} Watch;

static double now(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static int report(Watch *watch, double lower, double upper, uint64_t expansions)
{
    PyEval_RestoreThread(watch->thread);
    if (PyErr_CheckSignals())
        watch->exception = 1;
    else if (watch->progress != Py_None) {
        PyObject *answer = PyObject_CallFunction(watch->progress, "ddK", lower, upper,
                                                 (unsigned long long)expansions);
        watch->exception = !answer;
        Py_XDECREF(answer);
    }
    watch->thread = PyEval_SaveThread();
    return watch->exception;
}

static int look_at_clock(void *self, double lower, double upper, uint64_t expansions)
{
    Watch *watch = self;
    double time = now();
    if (time >= watch->next_report) {
        watch->next_report = time + REPORT_SECONDS;
        if (report(watch, lower, upper, expansions))
            return AT_ONCE;
    }
    return time >= watch->start + watch->seconds ? TIME_IS_UP : GO_ON;
}

static double share_of_time(void *self)
{
    const Watch *watch = self;
    return watch->seconds < NO_LIMIT ? (now() - watch->start) / watch->seconds : 0;
}

static void keep_watch(Search *s, Watch *watch)
{
    s->monitor.poll = look_at_clock;
    s->monitor.time_share = share_of_time;
    s->monitor.self = watch;
}

/* ---- the jobs ---- */

typedef PyObject *(*Job)(Search *s, Node *root, Watch *watch, int number);

static PyObject *plan_result(Search *s, const Node *root, Estimate e)
{
    int optimal = is_exact(e);
    long at = -1;
    s->monitor.poll = NULL;
    s->monitor.stop = !optimal;
    s->greedy.spare = search_spare(s->problem);
    PyObject *nodes = write_plan(s, root, optimal, &at);
    if (!nodes)
        return NULL;
    const uint64_t *c = s->cutoffs;
    return Py_BuildValue("(NldiKn(KKKKKKK))", nodes, at, e.lower, optimal,
                         (unsigned long long)s->monitor.expansions, (Py_ssize_t)s->memo.count,
                         (unsigned long long)c[0], (unsigned long long)c[1],
                         (unsigned long long)c[2], (unsigned long long)c[3],
                         (unsigned long long)c[4], (unsigned long long)c[5],
                         (unsigned long long)c[6]);
}

/* The plan of least cost, or the best one found in time. */
static PyObject *plan_job(Search *s, Node *root, Watch *watch, int patience)
{
    keep_watch(s, watch);
    watch->thread = PyEval_SaveThread();
    Estimate e = search_prove(s, root,
                              patience > 0 ? (uint64_t)patience : search_patience(s->problem));
    if (!is_exact(e)) {
        s->greedy.spare = search_spare(s->problem);
        search_rollout(s, root, 0, NULL);
    }
    PyEval_RestoreThread(watch->thread);
    if (watch->exception)
        return NULL;
    if (s->monitor.short_of_memory)
        return PyErr_NoMemory();
    return plan_result(s, root, e);
}

enum { MOST_RANKS = 64 };

/* The best tests to do first, with the cost of the best plan that begins with each. */
static PyObject *rank_job(Search *s, Node *root, Watch *watch, int most)
{
    int tests[MOST_RANKS], count;
    double costs[MOST_RANKS];
    keep_watch(s, watch);
    watch->thread = PyEval_SaveThread();
    search_prove(s, root, search_patience(s->problem));
    count = search_rank(s, root, most < MOST_RANKS ? most : MOST_RANKS, tests, costs);
    PyEval_RestoreThread(watch->thread);
    if (watch->exception || s->monitor.short_of_memory)
        return watch->exception ? NULL : PyErr_NoMemory();
    PyObject *list = PyList_New(count);
    for (int i = 0; list && i < count; i++)
        PyList_SET_ITEM(list, i, Py_BuildValue("(id)", tests[i], costs[i]));
    return list;
}

/* The group bound alone, from the node sets of a greedy plan. */
static PyObject *price_job(Search *s, Node *root, Watch *watch, int number)
{
    (void)number;
    keep_watch(s, watch);
    s->monitor.poll = NULL;
    search_rollout(s, root, 0, NULL);
    Groups *groups = search_groups(s, root);
    double bound = groups ? groups_ascend(groups, &s->monitor, 1) : 0;
    PyObject *result = groups ? PyFloat_FromDouble(bound) : PyErr_NoMemory();
    groups_free(groups);
    return result;
}

static PyObject *do_job(PyObject *args, Job job)
{
    PyObject *source, *progress, *result = NULL;
    unsigned long long openings, fulfilment;
    int place, number;
    double seconds, bytes, effort;
    if (!PyArg_ParseTuple(args, "OKKidddOi", &source, &openings, &fulfilment, &place, &seconds,
                          &effort, &bytes, &progress, &number))
        return NULL;
    Loan loan;
    Search s;
    Node root;
    Watch watch = {NULL, progress, now(), seconds, now() + REPORT_SECONDS, 0};
    if (loan_take(&loan, source)) {
        int room = search_open(&s, &loan.problem, (size_t)bytes);
        s.monitor.at_least = (uint64_t)(effort / search_size(&loan.problem));
        if (room && node_make_root(&loan.problem, &root, openings, fulfilment, place)) {
            result = job(&s, &root, &watch, number);
            node_free(&root);
        } else {
            PyErr_NoMemory();
        }
        search_close(&s);
    }
    loan_return(&loan);
    return result;
}

static PyObject *search(PyObject *self, PyObject *args)
{
    (void)self;
    return do_job(args, plan_job);
}

static PyObject *rank(PyObject *self, PyObject *args)
{
    (void)self;
    return do_job(args, rank_job);
}

static PyObject *price(PyObject *self, PyObject *args)
{
    (void)self;
    return do_job(args, price_job);
}

static PyObject *clock_now(PyObject *self, PyObject *none)
{
    (void)self;
    (void)none;
    return PyFloat_FromDouble(now());
}

static PyMethodDef methods[] = {
    {"search", search, METH_VARARGS,
     "search(problem, openings, fulfilment, place, seconds, effort, memory_bytes, progress, patience) -> "
     "(nodes, root, lower, optimal, expansions, entries, cutoffs)"},
    {"rank", rank, METH_VARARGS,
     "rank(problem, openings, fulfilment, place, seconds, effort, memory_bytes, progress, most) -> "
     "[(test, cost)]"},
    {"price", price, METH_VARARGS,
     "price(problem, openings, fulfilment, place, seconds, effort, memory_bytes, progress, 0) -> "
     "group bound"},
    {"clock", clock_now, METH_NOARGS, "clock() -> seconds on the clock that `search` keeps to"},
    {NULL, NULL, 0, NULL}};

static struct PyModuleDef module = {PyModuleDef_HEAD_INIT, "_kernel", NULL, -1, methods,
                                    NULL, NULL, NULL, NULL};

PyMODINIT_FUNC PyInit__kernel(void)
{
    return PyModule_Create(&module);
}

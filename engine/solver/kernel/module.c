/* The Python module `_kernel`: `transient`, `drops` and `linear`. All work without Python's lock. */
#define PY_SSIZE_T_CLEAN
#include <Python.h>

#include <stdlib.h>
#include <string.h>

#include "rest.h"
#include "transient.h"

/* Rounds in which junctions behind resistances settle to the last digit. Of the algorithm. */
static const int LAST_ROUNDS = 4;

static PyObject *unsolved;

typedef struct {
    Py_buffer elements, figures, programs, branches;
} Buffers;

static void release(Buffers *b)
{
    PyBuffer_Release(&b->elements);
    PyBuffer_Release(&b->figures);
    PyBuffer_Release(&b->programs);
    PyBuffer_Release(&b->branches);
}

static Netlist netlist(const Buffers *b)
{
    Netlist n = {
        b->elements.buf, b->figures.buf, b->programs.buf, b->branches.buf,
        (int)(b->elements.len / (Py_ssize_t)sizeof(Element)), (int)b->branches.len + 1,
        (long)(b->figures.len / (Py_ssize_t)sizeof(double)),
        (long)(b->programs.len / (Py_ssize_t)sizeof(int)),
    };
    return n;
}

typedef struct {
    Netlist netlist;
    Circuit circuit;
    Equations equations;
} Bench;

static const char *set_up(Bench *bench, const Buffers *b, int a, int c)
{
    memset(bench, 0, sizeof *bench);
    bench->netlist = netlist(b);
    if (a < 0 || c < 0 || a >= bench->netlist.variables || c >= bench->netlist.variables)
        return "a meter's end is none";
    const char *wrong = circuit_make(&bench->circuit, &bench->netlist, a, c);
    if (!wrong)
        wrong = equations_make(&bench->equations, &bench->circuit);
    bench->equations.meter.a = a;
    bench->equations.meter.b = c;
    return wrong;
}

static void clear(Bench *bench)
{
    equations_free(&bench->equations);
    circuit_free(&bench->circuit);
}

/* Doubles and whole numbers of a Python sequence; null with an exception. */
static double *doubles(PyObject *sequence, Py_ssize_t *count)
{
    PyObject *fast = PySequence_Fast(sequence, "numbers are wanted");
    if (!fast)
        return NULL;
    *count = PySequence_Fast_GET_SIZE(fast);
    double *out = malloc(((size_t)*count + 1) * sizeof *out);
    for (Py_ssize_t k = 0; out && k < *count; k++)
        out[k] = PyFloat_AsDouble(PySequence_Fast_GET_ITEM(fast, k));
    Py_DECREF(fast);
    if (!out)
        PyErr_NoMemory();
    else if (PyErr_Occurred()) {
        free(out);
        return NULL;
    }
    return out;
}

static PyObject *run_transient(PyObject *self, PyObject *args)
{
    Buffers b;
    double seconds, step, care[5];
    int order, rounds;
    PyObject *sequence;
    (void)self;
    if (!PyArg_ParseTuple(args, "y*y*y*y*ddiO(dddddi):transient", &b.elements, &b.figures,
                          &b.programs, &b.branches, &seconds, &step, &order, &sequence, care,
                          care + 1, care + 2, care + 3, care + 4, &rounds))
        return NULL;
    Py_ssize_t count = 0;
    double *numbers = doubles(sequence, &count);
    int *picks = malloc(((size_t)count + 1) * sizeof *picks);
    if (!numbers || !picks) {
        free(numbers);
        free(picks);
        release(&b);
        return PyErr_Occurred() ? NULL : PyErr_NoMemory();
    }
    Bench bench;
    Wave wave = {NULL, 0, 0, (int)count + 1};
    int done = 0;
    const char *wrong;
    Py_BEGIN_ALLOW_THREADS
    wrong = set_up(&bench, &b, 0, 0);
    for (Py_ssize_t k = 0; k < count && !wrong; k++) {
        picks[k] = (int)numbers[k];
        if (picks[k] < 0 || picks[k] >= bench.netlist.variables)
            wrong = "a node is none";
    }
    if (!wrong) {
        Care own = {care[0], care[1], care[2], care[3], care[4], rounds};
        bench.equations.care = own;
        done = transient_run(&bench.equations, seconds, step, order > 1, picks, &wave);
    }
    Py_END_ALLOW_THREADS
    PyObject *result = NULL;
    if (wrong || !done)
        PyErr_SetString(unsolved, wrong ? wrong : "no solution at some moment");
    else
        result = Py_BuildValue("y#ll", (char *)wave.rows,
                               (Py_ssize_t)wave.count * wave.width * (Py_ssize_t)sizeof(double),
                               bench.equations.effort.rounds, bench.equations.effort.orders);
    free(wave.rows);
    free(numbers);
    free(picks);
    clear(&bench);
    release(&b);
    return result;
}

static PyObject *run_drops(PyObject *self, PyObject *args)
{
    Buffers b;
    int a, c, rounds;
    double volts, enough, care[5];
    PyObject *sequence;
    (void)self;
    if (!PyArg_ParseTuple(args, "y*y*y*y*iidOd(dddddi):drops", &b.elements, &b.figures,
                          &b.programs, &b.branches, &a, &c, &volts, &sequence, &enough, care,
                          care + 1, care + 2, care + 3, care + 4, &rounds))
        return NULL;
    Py_ssize_t count = 0;
    double *ohms = doubles(sequence, &count), *drops = NULL;
    if (!ohms || !(drops = malloc(2 * ((size_t)count + 1) * sizeof *drops))) {
        free(ohms);
        release(&b);
        return PyErr_Occurred() ? NULL : PyErr_NoMemory();
    }
    Bench bench;
    const char *wrong;
    int forth = 0, back = 0;
    Py_BEGIN_ALLOW_THREADS
    wrong = set_up(&bench, &b, a, c);
    if (!wrong) {
        Care own = {care[0], care[1], care[2], care[3], care[4], rounds};
        bench.equations.care = own;
        forth = rest_drops(&bench.equations, volts, ohms, (int)count, enough, drops);
        if (forth)
            back = rest_drops(&bench.equations, -volts, ohms, (int)count, enough, drops + count);
    }
    Py_END_ALLOW_THREADS
    PyObject *result = NULL;
    if (wrong || !forth || !back)
        PyErr_SetString(unsolved, wrong ? wrong : "no point of rest");
    else
        result = Py_BuildValue("y#y#", (char *)drops, (Py_ssize_t)forth * (Py_ssize_t)sizeof *drops,
                               (char *)(drops + count),
                               (Py_ssize_t)back * (Py_ssize_t)sizeof *drops);
    free(ohms);
    free(drops);
    clear(&bench);
    release(&b);
    return result;
}

/* Whole matrices at the point of rest: what doesn't change with time, and per rate of change. */
static int spread(Bench *bench, double *flat)
{
    Equations *q = &bench->equations;
    const Pattern *p = &bench->circuit.pattern;
    static const Rate AT_REST = {0, 0, 0}, ONE = {1, 0, 0};
    size_t n = (size_t)bench->circuit.unknowns;
    if (!rest_point(q))
        return 0;
    for (int part = 0; part < 2; part++) {
        equations_set_rate(q, part ? ONE : AT_REST);
        /* slopes at the very point, lest their last change passes for a change over time */
        for (int round = 0; round < LAST_ROUNDS; round++)
            equations_straighten(q);
        equations_matrix(q, q->slots);
        for (int s = 0; s < p->slots; s++)
            flat[part * n * n + (size_t)p->row[s] * n + p->col[s]] = q->slots[s];
    }
    return 1;
}

static PyObject *run_linear(PyObject *self, PyObject *args)
{
    Buffers b;
    int a, c, rounds;
    double care[5];
    (void)self;
    if (!PyArg_ParseTuple(args, "y*y*y*y*ii(dddddi):linear", &b.elements, &b.figures, &b.programs,
                          &b.branches, &a, &c, care, care + 1, care + 2, care + 3, care + 4,
                          &rounds))
        return NULL;
    Bench bench;
    const char *wrong;
    double *flat = NULL;
    size_t n = 0;
    int done = 0;
    Py_BEGIN_ALLOW_THREADS
    wrong = set_up(&bench, &b, a, c);
    if (!wrong) {
        Care own = {care[0], care[1], care[2], care[3], care[4], rounds};
        bench.equations.care = own;
        n = (size_t)bench.circuit.unknowns;
        flat = calloc(2 * n * n + 1, sizeof *flat);
        done = flat && spread(&bench, flat);
    }
    Py_END_ALLOW_THREADS
    PyObject *result = NULL;
    if (wrong || !done)
        PyErr_SetString(unsolved, wrong ? wrong : "no point of rest");
    else
        result = Py_BuildValue("y#nii", (char *)flat,
                               (Py_ssize_t)(2 * n * n * sizeof *flat), (Py_ssize_t)n,
                               bench.circuit.column[a], bench.circuit.column[c]);
    free(flat);
    clear(&bench);
    release(&b);
    return result;
}

static PyMethodDef methods[] = {
    {"transient", run_transient, METH_VARARGS, NULL},
    {"drops", run_drops, METH_VARARGS, NULL},
    {"linear", run_linear, METH_VARARGS, NULL},
    {NULL, NULL, 0, NULL},
};

static struct PyModuleDef module = {
    .m_base = PyModuleDef_HEAD_INIT,
    .m_name = "_kernel",
    .m_doc = "Circuits over time, at rest, and as they answer small signals.",
    .m_size = -1,
    .m_methods = methods,
};

PyMODINIT_FUNC PyInit__kernel(void)
{
    PyObject *m = PyModule_Create(&module);
    if (!m)
        return NULL;
    unsolved = PyErr_NewException("engine.solver._kernel.Unsolved", PyExc_ArithmeticError, NULL);
    if (!unsolved || PyModule_AddObjectRef(m, "Unsolved", unsolved) < 0) {
        Py_DECREF(m);
        return NULL;
    }
    return m;
}

/* The border with Python: the arrays of `engine.planner.reduction.Problem`, checked and borrowed.
 * */
#ifndef NEXTPROBE_ARRAYS_H
#define NEXTPROBE_ARRAYS_H

#define PY_SSIZE_T_CLEAN
#include <Python.h>

#include "problem.h"

enum { MOST_ARRAYS = 64 };

/* A problem over arrays that Python owns, held until they are given back. */
typedef struct {
    Problem problem;
    Py_buffer view[MOST_ARRAYS];
    int count;
} Loan;

/* Returns 0 with ValueError or TypeError raised for what is not as the kernel takes it to be;
 * `loan_return` is due in any case. */
int loan_take(Loan *loan, PyObject *source);
void loan_return(Loan *loan);

#endif

/* Markowitz's order (H. Markowitz 1957, Management Science 3:255): of all pivots that are not small
 * in their column, the one whose elimination can fill least. Pivots whose row and column never
 * change while the step does come first: they are eliminated once for many solutions. */
#include "sparse.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* The least share of its column's largest value that a pivot may have (SPICE's pivrel). */
static const double LEAST_SHARE = 1e-3;
/* What a steady pivot may fill at most, as Markowitz counts. Of the algorithm. */
static const long MOST_STEADY_FILL = 12;
/* Multipliers beyond this mean that the order has outlived its matrix. Of the algorithm. */
static const double LARGEST_MULTIPLIER = 1e9;

typedef struct {
    int n;
    double *value;  /* n x n */
    char *filled;   /* n x n */
    char *row_busy, *col_busy; /* holds what changes from solution to solution */
    int *row_count, *col_count;
    char *row_gone, *col_gone;
    double *col_most;
} Work;

static void work_free(Work *w)
{
    free(w->value); free(w->filled); free(w->row_busy); free(w->row_count); free(w->col_most);
}

static int work_make(Work *w, const Pattern *p, const double *values)
{
    size_t n = (size_t)p->n;
    memset(w, 0, sizeof *w);
    w->n = p->n;
    w->value = calloc(n * n + 1, sizeof *w->value);
    w->filled = calloc(n * n + 1, 1);
    w->row_busy = calloc(4 * n + 1, 1);
    w->row_count = calloc(2 * n + 1, sizeof *w->row_count);
    w->col_most = calloc(n + 1, sizeof *w->col_most);
    if (!w->value || !w->filled || !w->row_busy || !w->row_count || !w->col_most)
        return 0;
    w->col_busy = w->row_busy + n;
    w->row_gone = w->row_busy + 2 * n;
    w->col_gone = w->row_busy + 3 * n;
    w->col_count = w->row_count + n;
    for (int s = 0; s < p->slots; s++) {
        int i = p->row[s], j = p->col[s];
        w->value[(size_t)i * n + j] = values[s];
        w->filled[(size_t)i * n + j] = 1;
        w->row_count[i]++;
        w->col_count[j]++;
        if (!p->steady[s])
            w->row_busy[i] = w->col_busy[j] = 1;
    }
    return 1;
}

/* The best pivot, its row times n plus its column; -1 where none is left. */
static long best_pivot(Work *w, int steady)
{
    int n = w->n;
    memset(w->col_most, 0, (size_t)n * sizeof *w->col_most);
    for (int i = 0; i < n; i++)
        if (!w->row_gone[i])
            for (int j = 0; j < n; j++)
                if (w->filled[(size_t)i * n + j] && !w->col_gone[j])
                    w->col_most[j] = fmax(w->col_most[j], fabs(w->value[(size_t)i * n + j]));
    long best = -1, least = steady ? MOST_STEADY_FILL + 1 : 0x7fffffffL;
    double strength = 0;
    for (int i = 0; i < n; i++) {
        if (w->row_gone[i] || (steady && w->row_busy[i]))
            continue;
        for (int j = 0; j < n; j++) {
            size_t at = (size_t)i * n + j;
            if (!w->filled[at] || w->col_gone[j] || (steady && w->col_busy[j]))
                continue;
            double most = w->col_most[j], own = fabs(w->value[at]);
            if (own == 0.0 || own < LEAST_SHARE * most)
                continue;
            long fill = (long)(w->row_count[i] - 1) * (w->col_count[j] - 1);
            if (fill < least || (fill == least && own / most > strength)) {
                least = fill;
                strength = own / most;
                best = (long)at;
            }
        }
    }
    return best;
}

static void eliminate(Work *w, int row, int col)
{
    int n = w->n;
    double *pivot_row = w->value + (size_t)row * n;
    const char *pivot_filled = w->filled + (size_t)row * n;
    w->row_gone[row] = w->col_gone[col] = 1;
    for (int j = 0; j < n; j++)
        if (pivot_filled[j])
            w->col_count[j]--;
    for (int i = 0; i < n; i++) {
        size_t at = (size_t)i * n;
        if (w->row_gone[i] || !w->filled[at + col])
            continue;
        w->row_count[i]--;
        double m = w->value[at + col] / pivot_row[col];
        for (int j = 0; j < n; j++) {
            if (w->col_gone[j] || !pivot_filled[j])
                continue;
            w->value[at + j] -= m * pivot_row[j];
            if (!w->filled[at + j]) {
                w->filled[at + j] = 1;
                w->row_count[i]++;
                w->col_count[j]++;
            }
        }
    }
}

void order_free(Order *o)
{
    free(o->place); free(o->row); free(o->upper_col); free(o->lower); free(o->target);
    memset(o, 0, sizeof *o);
}

/* Places of all values: row by row in the order of pivots, each from left to right. */
static int lay_out(Order *o, const Pattern *p, const Work *w, const int *row_of, const int *col_of)
{
    int n = o->n;
    int *value_at = malloc(((size_t)n * n + 1) * sizeof *value_at);
    int size = 0, lowers = 0;
    long targets = 0;
    if (!value_at)
        return 0;
    for (int k = 0; k < n; k++)
        for (int l = 0; l < n; l++)
            if (w->filled[(size_t)o->row[k] * n + o->col[l]]) {
                value_at[(size_t)k * n + l] = size++;
                lowers += l < k;
            } else
                value_at[(size_t)k * n + l] = -1;
    o->size = size;
    o->upper_col = calloc((size_t)size + 1, sizeof *o->upper_col);
    o->lower = calloc((size_t)(n + 1) + 2 * (size_t)lowers, sizeof *o->lower);
    o->place = calloc((size_t)p->slots + 1, sizeof *o->place);
    if (!o->upper_col || !o->lower || !o->place) {
        free(value_at);
        return 0;
    }
    o->lower_value = o->lower + n + 1;
    o->lower_row = o->lower_value + lowers;
    for (int k = 0; k < n; k++) {
        o->pivot[k] = value_at[(size_t)k * n + k];
        for (int l = k + 1; l < n; l++)
            if (value_at[(size_t)k * n + l] >= 0) {
                o->upper[k]++;
                o->upper_col[value_at[(size_t)k * n + l]] = l;
            }
    }
    int at = 0;
    for (int k = 0; k < n; k++) {
        o->lower[k] = at;
        for (int i = k + 1; i < n; i++)
            if (value_at[(size_t)i * n + k] >= 0) {
                o->lower_value[at] = value_at[(size_t)i * n + k];
                o->lower_row[at++] = i;
            }
        targets += (long)(at - o->lower[k]) * o->upper[k];
    }
    o->lower[n] = at;
    o->target = malloc(((size_t)targets + (size_t)n + 1) * sizeof *o->target);
    if (!o->target) {
        free(value_at);
        return 0;
    }
    o->target_of = o->target + targets;
    int t = 0;
    for (int k = 0; k < n; k++) {
        o->target_of[k] = t;
        for (int l = o->lower[k]; l < o->lower[k + 1]; l++)
            for (int u = 1; u <= o->upper[k]; u++)
                o->target[t++] = value_at[(size_t)o->lower_row[l] * n
                                          + o->upper_col[o->pivot[k] + u]];
    }
    o->target_of[n] = t;
    for (int s = 0; s < p->slots; s++)
        o->place[s] = value_at[(size_t)row_of[p->row[s]] * n + col_of[p->col[s]]];
    o->place[p->slots] = size;
    free(value_at);
    return 1;
}

Order order_make(const Pattern *p, const double *values)
{
    Order o = {0};
    Work w;
    int n = p->n, done = 0, ok = work_make(&w, p, values);
    int *of = calloc(2 * (size_t)n + 1, sizeof *of);
    o.n = n;
    o.row = calloc(4 * (size_t)n + 1, sizeof *o.row);
    if (!ok || !of || !o.row)
        goto end;
    ok = 0;
    o.col = o.row + n;
    o.pivot = o.row + 2 * n;
    o.upper = o.row + 3 * n;
    for (int steady = 1; steady >= 0; steady--) {
        long at;
        while (done < n && (at = best_pivot(&w, steady)) >= 0) {
            int i = (int)(at / n), j = (int)(at % n);
            o.row[done] = i;
            o.col[done] = j;
            of[i] = of[n + j] = done++;
            eliminate(&w, i, j);
        }
        if (steady)
            o.steady = done;
    }
    ok = done == n && lay_out(&o, p, &w, of, of + n);
end:
    free(of);
    work_free(&w);
    if (!ok)
        order_free(&o);
    return o;
}

int order_eliminate(const Order *o, int from, int to, double *restrict values,
                    double *restrict inverse)
{
    const int *t = o->target + o->target_of[from];
    double largest = 0;
    for (int k = from; k < to; k++) {
        double pivot = values[o->pivot[k]];
        if (!(fabs(pivot) > 0) || !isfinite(pivot))
            return 0;
        double d = inverse[k] = 1.0 / pivot;
        const double *u = values + o->pivot[k] + 1;
        int many = o->upper[k];
        for (int l = o->lower[k]; l < o->lower[k + 1]; l++) {
            double m = values[o->lower_value[l]] *= d;
            largest = fmax(largest, fabs(m));
            for (int j = 0; j < many; j++)
                values[*t++] -= m * u[j];
        }
    }
    return largest < LARGEST_MULTIPLIER;
}

void order_solve(const Order *o, const double *restrict values, const double *restrict inverse,
                 const double *restrict right, double *restrict work, double *restrict x)
{
    int n = o->n;
    for (int k = 0; k < n; k++)
        work[k] = right[o->row[k]];
    for (int k = 0; k < n; k++) {
        double y = work[k];
        for (int l = o->lower[k]; l < o->lower[k + 1]; l++)
            work[o->lower_row[l]] -= values[o->lower_value[l]] * y;
    }
    for (int k = n - 1; k >= 0; k--) {
        double y = work[k];
        const double *u = values + o->pivot[k] + 1;
        const int *col = o->upper_col + o->pivot[k] + 1;
        for (int j = 0; j < o->upper[k]; j++)
            y -= u[j] * work[col[j]];
        work[k] = y * inverse[k];
        x[o->col[k]] = work[k];
    }
}

/* Value forwards, derivatives backwards (reverse accumulation): each costs one pass, however many
 * variables there are. */
#include "expression.h"

#include <math.h>
#include <string.h>

/* From here on a hyperbolic tangent is one, to the last digit. */
static const double SATURATED = 20.0;

int expression_room(const Expression *e)
{
    return 2 * (e->variables + e->constants + e->count);
}

int expression_sound(const Expression *e)
{
    int base = e->variables + e->constants;
    if (e->variables < 1 || e->count < 1)
        return 0;
    for (int k = 0; k < e->count; k++) {
        const int *op = e->operations + 4 * k;
        if (op[0] < 0 || op[0] >= OP_COUNT)
            return 0;
        for (int i = 1; i < 4; i++)
            if (op[i] < 0 || op[i] >= base + k)
                return 0;
    }
    return 1;
}

static double whole_power(double x, int n)
{
    double result = 1.0;
    for (; n; n >>= 1, x *= x)
        if (n & 1)
            result *= x;
    return result;
}

/* By one exponential, which costs a third of the library's own; right to the last digits of 1. */
static double hyperbolic(double a)
{
    if (fabs(a) > SATURATED)
        return a > 0 ? 1.0 : -1.0;
    double e = exp(2 * a);
    return (e - 1) / (e + 1);
}

static double forwards(int code, double a, double b, double c)
{
    switch (code) {
    case OP_ADD: return a + b;
    case OP_SUB: return a - b;
    case OP_MUL: return a * b;
    case OP_DIV: return a / b;
    case OP_NEG: return -a;
    case OP_MIN: return a < b ? a : b;
    case OP_MAX: return a > b ? a : b;
    case OP_ABS: return fabs(a);
    case OP_TANH: return hyperbolic(a);
    case OP_EXP: return exp(a);
    case OP_POW: return pow(fabs(a), b);
    case OP_WHOLE: return whole_power(a, (int)b);
    case OP_SGN: return (double)((a > 0) - (a < 0));
    case OP_LESS: return a < b;
    case OP_NOT_MORE: return a <= b;
    case OP_SELECT: return a != 0.0 ? b : c;
    case OP_SQRT: return sqrt(a);
    case OP_LN: return log(a);
    case OP_SIN: return sin(a);
    case OP_COS: return cos(a);
    default: return atan(a);
    }
}

double expression_value(const Expression *e, const double *x, double *partial, double *work)
{
    int base = e->variables + e->constants, last = base + e->count - 1;
    double *v = work, *d = work + last + 1;
    memcpy(v, x, (size_t)e->variables * sizeof *v);
    memcpy(v + e->variables, e->constant, (size_t)e->constants * sizeof *v);
    const int *op = e->operations;
    for (int k = base; k <= last; k++, op += 4)
        v[k] = forwards(op[0], v[op[1]], v[op[2]], v[op[3]]);
    memset(d, 0, (size_t)(last + 1) * sizeof *d);
    d[last] = 1.0;
    for (int k = last; k >= base; k--) {
        double s = d[k];
        op -= 4;
        if (s == 0.0)
            continue;
        int i = op[1], j = op[2];
        double a = v[i], b = v[j], r = v[k];
        switch (op[0]) {
        case OP_ADD: d[i] += s; d[j] += s; break;
        case OP_SUB: d[i] += s; d[j] -= s; break;
        case OP_MUL: d[i] += s * b; d[j] += s * a; break;
        case OP_DIV: d[i] += s / b; d[j] -= s * r / b; break;
        case OP_NEG: d[i] -= s; break;
        case OP_MIN: d[a <= b ? i : j] += s; break;
        case OP_MAX: d[a >= b ? i : j] += s; break;
        case OP_ABS: d[i] += a < 0 ? -s : s; break;
        case OP_TANH: d[i] += s * (1.0 - r * r); break;
        case OP_EXP: d[i] += s * r; break;
        case OP_POW:
            if (a != 0.0) {
                d[i] += s * b * r / a;
                if (j >= base || j < e->variables)
                    d[j] += s * r * log(fabs(a));
            }
            break;
        case OP_WHOLE: d[i] += s * b * (a != 0.0 ? r / a : whole_power(a, (int)b - 1)); break;
        case OP_SELECT: d[a != 0.0 ? j : op[3]] += s; break;
        case OP_SQRT: d[i] += r > 0 ? 0.5 * s / r : 0.0; break;
        case OP_LN: d[i] += s / a; break;
        case OP_SIN: d[i] += s * cos(a); break;
        case OP_COS: d[i] -= s * sin(a); break;
        case OP_ATAN: d[i] += s / (1.0 + a * a); break;
        default: break; /* steps: flat on either side */
        }
    }
    memcpy(partial, d, (size_t)e->variables * sizeof *partial);
    return v[last];
}

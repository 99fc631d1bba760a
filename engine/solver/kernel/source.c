/* Courses as the SPICE manual gives them; PULSE's edges take no time where none is given. */
#include "source.h"

#include <math.h>

/* Seconds within which two times are one. */
static const double SAME = 1e-12;

static const double TURN = 6.283185307179586; /* two pi */

static double figure(const double *source, int n, double otherwise)
{
    return n < (int)source[1] ? source[2 + n] : otherwise;
}

int source_sound(const double *source, long room)
{
    if (room < 3)
        return 0;
    int shape = (int)source[0], count = (int)source[1];
    if (shape < SHAPE_DC || shape > SHAPE_PWL || count < 1 || count > room - 2)
        return 0;
    if (shape == SHAPE_SIN)
        return count >= 3 && count <= 5;
    if (shape == SHAPE_PULSE)
        return count >= 2 && count <= 7 && figure(source, 6, 1.0) > 0;
    return shape == SHAPE_DC || count % 2 == 0;
}

static double sine(const double *s, double time)
{
    double delay = figure(s, 3, 0.0), since = time - delay;
    if (since <= 0)
        return s[2];
    return s[2] + s[3] * exp(-since * figure(s, 4, 0.0)) * sin(TURN * s[4] * since);
}

static void edges(const double *s, double *edge)
{
    double rise = figure(s, 3, 0.0), fall = figure(s, 4, 0.0);
    edge[0] = 0.0;
    edge[1] = rise;
    edge[2] = rise + figure(s, 5, INFINITY);
    edge[3] = edge[2] + fall;
}

static double pulse(const double *s, double time)
{
    double since = time - figure(s, 2, 0.0), edge[4];
    edges(s, edge);
    if (since <= 0)
        return s[2];
    since = fmod(since, figure(s, 6, INFINITY));
    if (since < edge[1])
        return s[2] + (s[3] - s[2]) * since / edge[1];
    if (since <= edge[2])
        return s[3];
    if (since < edge[3])
        return s[3] + (s[2] - s[3]) * (since - edge[2]) / (edge[3] - edge[2]);
    return s[2];
}

static double polygon(const double *s, double time)
{
    int corners = (int)s[1] / 2;
    const double *at = s + 2;
    if (time <= at[0])
        return at[1];
    for (int k = 1; k < corners; k++)
        if (time < at[2 * k]) {
            double share = (time - at[2 * k - 2]) / (at[2 * k] - at[2 * k - 2]);
            return at[2 * k - 1] + share * (at[2 * k + 1] - at[2 * k - 1]);
        }
    return at[2 * corners - 1];
}

double source_value(const double *source, double time)
{
    switch ((int)source[0]) {
    case SHAPE_SIN: return sine(source, time);
    case SHAPE_PULSE: return pulse(source, time);
    case SHAPE_PWL: return polygon(source, time);
    default: return source[2];
    }
}

double source_corner(const double *source, double time)
{
    if ((int)source[0] == SHAPE_PWL) {
        for (int k = 0; k < (int)source[1] / 2; k++)
            if (source[2 + 2 * k] > time + SAME)
                return source[2 + 2 * k];
        return INFINITY;
    }
    if ((int)source[0] != SHAPE_PULSE)
        return INFINITY;
    double delay = figure(source, 2, 0.0), period = figure(source, 6, INFINITY), edge[4];
    edges(source, edge);
    double begin = delay;
    if (time > delay && isfinite(period))
        begin += floor((time - delay) / period) * period;
    for (int round = 0; round < 2; round++, begin += period)
        for (int k = 0; k < 4; k++)
            if (begin + edge[k] > time + SAME)
                return begin + edge[k];
    return INFINITY;
}

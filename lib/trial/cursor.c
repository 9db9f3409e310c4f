/* cursor.c - see cursor.h. The rows are long where nothing changes, so that most of a
 * year of seconds is passed over, not looked at. */
#include "trial/cursor.h"

static int64_t row_ms(const struct days *days, size_t row)
{
    return (int64_t)days->step_s * MS_PER_S * (days->lasts ? days->lasts[row] : 1);
}

static void take_row(struct cursor *cursor)
{
    cursor->use_w = cursor->home->use_scale * (double)cursor->days->use_w[cursor->row];
    cursor->solar_w = cursor->home->solar_scale * (double)cursor->days->solar_w[cursor->row];
}

/* Told by the days: one value a draw step, nothing once they are over. */
static void take_told_flow(struct cursor *cursor, int64_t wall_ms)
{
    const struct days *days = cursor->days;
    int64_t step_ms = (int64_t)days->draw_step_s * MS_PER_S;
    size_t at = (size_t)((wall_ms - days->first.ms) / step_ms);
    cursor->flow_end_ms = days->first.ms + (int64_t)(at + 1) * step_ms;
    cursor->flow_l_s = at < days->draw_count ? (double)days->draw_l[at] / days->draw_step_s : 0;
    cursor->flow_l_s *= cursor->home->taps.scale;
}

/* The same litres in each local hour; a change of the clock begins an hour anew. */
static void take_usual_flow(struct cursor *cursor, int64_t wall_ms)
{
    struct wall wall = {wall_ms}, change;
    struct local local = local_of_wall(cursor->home->zone, wall);
    int64_t left_s = 3600 - local.second % 3600;
    const struct trial_taps *taps = &cursor->home->taps;
    cursor->flow_l_s = taps->scale * taps->hour_l[local.second / 3600] / 3600;
    cursor->flow_end_ms = wall_ms - wall_ms % MS_PER_S + left_s * MS_PER_S;
    if (zone_next_change(cursor->home->zone, wall, &change) && change.ms < cursor->flow_end_ms)
        cursor->flow_end_ms = change.ms;
}

static void take_flow(struct cursor *cursor, int64_t wall_ms)
{
    if (cursor->days->draw_l)
        take_told_flow(cursor, wall_ms);
    else
        take_usual_flow(cursor, wall_ms);
}

void cursor_begin(struct cursor *cursor, const struct trial_home *home, const struct days *days)
{
    *cursor = (struct cursor){.home = home, .days = days};
    cursor->row_end_ms = days->first.ms + row_ms(days, 0);
    cursor->end_ms = days->first.ms + (int64_t)days->steps * days->step_s * MS_PER_S;
    take_row(cursor);
    take_flow(cursor, days->first.ms);
}

void cursor_move(struct cursor *cursor, int64_t wall_ms)
{
    if (wall_ms >= cursor->row_end_ms) {
        do
            cursor->row_end_ms += row_ms(cursor->days, ++cursor->row);
        while (wall_ms >= cursor->row_end_ms);
        take_row(cursor);
    }
    if (wall_ms >= cursor->flow_end_ms)
        take_flow(cursor, wall_ms);
}

double trial_litres(const struct trial_home *home, const struct days *days, struct wall from,
                    struct wall to)
{
    struct cursor cursor = {.home = home, .days = days};
    double litres = 0;
    for (int64_t at = from.ms; at < to.ms; at = cursor.flow_end_ms) {
        take_flow(&cursor, at);
        int64_t until = cursor.flow_end_ms < to.ms ? cursor.flow_end_ms : to.ms;
        litres += cursor.flow_l_s * (double)(until - at) / MS_PER_S;
    }
    return litres;
}

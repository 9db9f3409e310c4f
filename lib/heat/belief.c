/* belief.c - a store that is only guessed at: its mean level, and how far off that may be.
 *
 * What is missing to full is taken as gamma distributed: it can't be less than nothing, and
 * may be much more than its mean. The distribution is cut in pieces, each of them even over
 * its width. Heat opens the thermostat of all that miss less; of those that miss more it is
 * then known that they do. */
#include "heat_inside.h"

enum { PARTS = 256, ROWS = 10, SPREAD_OF_MEAN_MOST = 2, LEAST_MISSING = LEVEL / 4 };

/* The spreads that are reckoned with, in levels times LEVEL; between them on the line. */
const int32_t belief_spread[HEAT_SPREADS] = {0, 179, 384, 640, 947, 1331, 1792, 2432, 3328};

const int32_t piece_share[PIECES] = {26, 26, 38, 38, 38, 32, 24, 16, 10, 5, 3};

/* Of gamma distributions of the shapes 1/4, 1/2 ... 128, each piece's mean, and its width, in
 * thousandths of the spread about the whole's mean; computed from the incomplete gamma
 * function. The first and last piece reach as far beyond their means as to the cut. */
static const int32_t piece_row[ROWS][2][PIECES] = {
    {{-500, -499, -491, -452, -337, -86, 350, 1007, 1940, 3225, 5778},
     {0, 2, 18, 67, 177, 344, 554, 792, 1145, 1514, 3328}},
    {{-703, -680, -615, -480, -252, 97, 580, 1209, 2023, 3078, 5064},
     {15, 35, 100, 175, 292, 420, 564, 719, 964, 1212, 2558}},
    {{-947, -834, -673, -442, -141, 249, 728, 1303, 2006, 2877, 4447},
     {109, 120, 206, 260, 352, 439, 534, 636, 811, 981, 2000}},
    {{-1173, -927, -682, -386, -47, 354, 813, 1336, 1948, 2681, 3952},
     {276, 209, 287, 310, 378, 434, 497, 564, 693, 812, 1604}},
    {{-1346, -977, -671, -335, 23, 423, 860, 1339, 1883, 2516, 3577},
     {446, 279, 341, 339, 387, 423, 463, 509, 606, 691, 1326}},
    {{-1468, -1003, -655, -295, 72, 467, 886, 1332, 1825, 2387, 3301},
     {584, 328, 376, 355, 389, 410, 437, 467, 543, 606, 1133}},
    {{-1553, -1017, -641, -265, 107, 497, 900, 1322, 1779, 2289, 3102},
     {688, 362, 400, 364, 389, 400, 416, 436, 498, 545, 999}},
    {{-1612, -1024, -629, -243, 131, 516, 908, 1312, 1743, 2218, 2959},
     {763, 386, 415, 370, 387, 392, 401, 414, 466, 503, 906}},
    {{-1653, -1028, -620, -227, 148, 530, 913, 1303, 1716, 2166, 2857},
     {817, 403, 426, 374, 386, 386, 390, 399, 444, 474, 842}},
    {{-1681, -1031, -613, -216, 160, 539, 916, 1297, 1697, 2129, 2785},
     {856, 414, 433, 376, 385, 381, 383, 388, 428, 453, 796}},
};

/* Between two rows on the line; beyond the last all are alike. */
void belief_pieces(int32_t missing, int32_t spread, struct piece piece[PIECES])
{
    if (missing < LEAST_MISSING)
        missing = LEAST_MISSING;
    if (spread > missing * SPREAD_OF_MEAN_MOST)
        spread = missing * SPREAD_OF_MEAN_MOST;
    int64_t shape = 4 * PARTS * (int64_t)missing * missing / ((int64_t)spread * spread);
    int row = 0;
    while (row < ROWS - 1 && shape >= PARTS << (row + 1))
        row++;
    int part = row == ROWS - 1 ? 0 : (int)((shape - (PARTS << row)) >> row);
    int next = row == ROWS - 1 ? row : row + 1;
    part = part < 0 ? 0 : part;
    for (int k = 0; k < PIECES; k++) {
        int64_t mean = (PARTS - part) * piece_row[row][0][k] + part * piece_row[next][0][k];
        int64_t width = (PARTS - part) * piece_row[row][1][k] + part * piece_row[next][1][k];
        piece[k].missing = missing + (int32_t)(mean * spread / (1000 * PARTS));
        piece[k].width = (int32_t)(width * spread / (1000 * PARTS));
        if (piece[k].missing < 0)
            piece[k].missing = 0;
    }
}

int32_t belief_root(int64_t square)
{
    int64_t low = 0, high = INT64_C(1) << 20;
    while (high - low > 1) {
        int64_t middle = (low + high) / 2;
        if (middle * middle <= square)
            low = middle;
        else
            high = middle;
    }
    return (int32_t)low;
}

struct sums {
    int64_t open, used, left, square; /* by shares of PIECE_WHOLE * PARTS */
};

static void add_left(struct sums *sums, int64_t share, int64_t left, int64_t width)
{
    sums->left += share * left;
    sums->square += share * (left * left + width * width / 12);
}

static void heat_piece(const struct piece *piece, int64_t share, int32_t heat, struct sums *sums)
{
    int32_t from = piece->missing - piece->width / 2, to = piece->missing + piece->width / 2;
    from = from < 0 ? 0 : from;
    if (to <= heat) {
        sums->open += share * PARTS;
        sums->used += share * PARTS * piece->missing;
    } else if (from >= heat) {
        sums->used += share * PARTS * heat;
        add_left(sums, share * PARTS, piece->missing - heat, piece->width);
    } else { /* some of it opens */
        int64_t opens = share * ((int64_t)(heat - from) * PARTS / (to - from));
        int64_t stays = share * PARTS - opens;
        sums->open += opens;
        sums->used += opens * ((from + heat) / 2) + stays * heat;
        add_left(sums, stays, (to - heat) / 2, to - heat);
    }
}

static struct heated known_heated(int32_t missing, int32_t heat)
{
    if (missing <= heat)
        return (struct heated){.open = HEATED_WHOLE, .used = missing, .missing = 0};
    return (struct heated){.used = heat, .missing = missing - heat};
}

struct heated belief_heated(int32_t missing, int32_t spread, int32_t heat)
{
    if (spread == 0)
        return known_heated(missing, heat);
    struct piece piece[PIECES];
    struct sums sums = {0};
    belief_pieces(missing, spread, piece);
    for (int k = 0; k < PIECES; k++)
        heat_piece(&piece[k], piece_share[k], heat, &sums);
    struct heated heated = {.open = (int32_t)sums.open,
                            .used = (int32_t)(sums.used / HEATED_WHOLE)};
    int64_t stays = HEATED_WHOLE - sums.open;
    if (stays > 0) {
        int64_t left = sums.left / stays, square = sums.square / stays - left * left;
        heated.missing = (int32_t)left;
        heated.spread = square > 0 ? belief_root(square) : 0;
    }
    return heated;
}

struct place belief_place(int32_t missing, int32_t spread)
{
    int32_t level = FULL_LEVEL - missing;
    level = level < 0 ? 0 : level > FULL_LEVEL ? FULL_LEVEL : level;
    int32_t most = belief_spread[HEAT_SPREADS - 1];
    spread = spread > most ? most : spread;
    int g = level / LEVEL, v = 0;
    g = g > HEAT_LEVELS - 2 ? HEAT_LEVELS - 2 : g;
    while (v < HEAT_SPREADS - 2 && spread >= belief_spread[v + 1])
        v++;
    int32_t up = level - g * LEVEL;
    int32_t wide = (spread - belief_spread[v]) * LEVEL / (belief_spread[v + 1] - belief_spread[v]);
    return (struct place){.spread = v,
                          .level = g,
                          .weight = {(LEVEL - wide) * (LEVEL - up), (LEVEL - wide) * up,
                                     wide * (LEVEL - up), wide * up}};
}

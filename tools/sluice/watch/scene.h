/* scene.h - the live screen, put together: what the daemon says, today's runs, what is wrong. */
#ifndef SLUICE_TOOLS_WATCH_SCENE_H
#define SLUICE_TOOLS_WATCH_SCENE_H

#include <cjson/cJSON.h>
#include <stdbool.h>

#include "frame.h"
#include "strip.h"

enum { SCENE_TEXT_MAX = 240 };

enum scene_view { VIEW_HOUSE, VIEW_LOAD, VIEW_HELP };

struct scene {
    const cJSON *status;          /* NULL: none has come yet */
    char trouble[SCENE_TEXT_MAX]; /* "": the daemon answers; else why not, and since when */
    const struct strip *strip;
    enum scene_view view;
    int selected;                 /* load, by its place in the status */
    char message[SCENE_TEXT_MAX]; /* the answer to the last order */
    const char *prompt;           /* NULL: none; else what is asked, and what is typed so far */
    const char *typed;
    bool colour;
    int columns, rows; /* of the terminal */
};

int scene_loads(const struct scene *scene);
const char *scene_load_name(const struct scene *scene, int index);

void scene_draw(const struct scene *scene, struct frame *frame);

#endif

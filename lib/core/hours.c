#include "core/hours.h"

// Where results go: the room job has it, for every way in.
#pragma once

#include "cutface/job.h"

/**
 * The service called through openapi-fetch and the generated types, as an integrator would.
 *
 * `node --test built/calls.js` runs it; SERVICE_ADDRESS says where the service is. Bodies and answers stand
 * in `examples.ts`, which the tests write: each has the type that the contract gives it, so that it compiles
 * only if the types tell the truth.
 */

import assert from "node:assert/strict";
import { test } from "node:test";
import createClient from "openapi-fetch";
import { assessments, comparisons, diagnoses, lines, lists, plans, tables, trends } from "./examples.js";
import type { Assessment, AssessmentRequest, BatchAnswerLine, Grade, Problem, paths } from "./service.js";

const baseUrl = process.env["SERVICE_ADDRESS"];
assert.ok(baseUrl, "SERVICE_ADDRESS is missing");
/** Operations that give CSV too are typed as what they give when nothing else is asked for. */
const client = createClient<paths, "application/json" | "application/problem+json">({ baseUrl });

/** The first body of a kind. */
function one<Body>(given: Record<string, [Body, unknown]>): Body {
  const [first] = Object.values(given);
  assert.ok(first);
  return first[0];
}

for (const [name, [body, answer]] of Object.entries(assessments)) {
  test(`assessment of ${name}`, async () => {
    const { data, error } = await client.POST("/v1/assessments", { body });
    assert.equal(error, undefined);
    assert.deepEqual(data, answer);
  });
}

for (const [name, [body, answer]] of Object.entries(diagnoses)) {
  test(`diagnosis of ${name}`, async () => {
    const { data } = await client.POST("/v1/diagnoses", { body });
    assert.deepEqual(data, answer);
  });
}

for (const [name, [body, answer]] of Object.entries(comparisons)) {
  test(`comparison of ${name}`, async () => {
    const { data } = await client.POST("/v1/comparisons", { body });
    assert.deepEqual(data, answer);
  });
}

for (const [name, [body, answer]] of Object.entries(plans)) {
  test(`plan of ${name}`, async () => {
    const { data } = await client.POST("/v1/plans", { body });
    assert.deepEqual(data, answer);
  });
}

for (const [name, [body, answer]] of Object.entries(trends)) {
  test(`series of ${name}`, async () => {
    const { data } = await client.POST("/v1/trends", { body });
    assert.deepEqual(data, answer);
  });
}

test("values are read by name, with their types", async () => {
  const body: AssessmentRequest = {
    units: "imperial",
    unit: { refrigerant: "R-410A", metering_device: "thermostatic_expansion_valve" },
    kit: { gauges: { type: "pressure_transducer" } },
    run: {
      readings: {
        suction_pressure: { value: 8.5, unit: "bar", instrument: "gauges" },
        suction_line_temperature: 55.5,
      },
    },
  };
  const { data } = await client.POST("/v1/assessments", { body });
  const superheat: number | undefined = data?.derived["superheat"]?.value;
  assert.ok(superheat !== undefined && superheat > 0);
  const grades: Grade[] | undefined = data?.findings.map((finding) => finding.grade);
  assert.ok(grades && grades.length > 0);
});

test("a table as CSV", async () => {
  const { data } = await client.GET("/v1/refrigerants/{designation}/saturation", {
    params: { path: { designation: "R-410A" }, query: { units: "metric", step: 10, format: "csv" } },
    parseAs: "text",
  });
  const table: string | undefined = data;
  assert.match(table ?? "", /^temperature \[degC\],/);
});

test("lists of the reference, and the state of the service", async () => {
  assert.deepEqual((await client.GET("/health/live")).data, lists["/health/live"]);
  assert.deepEqual((await client.GET("/health/ready")).data, lists["/health/ready"]);
  assert.deepEqual((await client.GET("/v1/instruments")).data, lists["/v1/instruments"]);
  assert.deepEqual((await client.GET("/v1/limits")).data, lists["/v1/limits"]);
  assert.deepEqual((await client.GET("/v1/cautions")).data, lists["/v1/cautions"]);
  assert.deepEqual((await client.GET("/v1/faults")).data, lists["/v1/faults"]);
  assert.deepEqual((await client.GET("/v1/plots")).data, lists["/v1/plots"]);
});

test("refrigerants", async () => {
  const query = { units: "metric" } as const;
  const path = { designation: "R-454B" };
  const all = await client.GET("/v1/refrigerants", { params: { query } });
  assert.deepEqual(all.data, tables.refrigerants);
  const single = await client.GET("/v1/refrigerants/{designation}", { params: { path, query } });
  assert.deepEqual(single.data, tables.refrigerant);
  const saturation = await client.GET("/v1/refrigerants/{designation}/saturation", {
    params: { path, query: { ...query, from: 0, to: 40, step: 20 } },
  });
  assert.deepEqual(saturation.data, tables.saturation);
});

test("pictures and a report", async () => {
  const limits = await client.POST("/v1/plots/{plot}", {
    params: { path: { plot: "limits" }, query: { theme: "light", most: 3 } },
    body: one(assessments),
    parseAs: "text",
  });
  assert.match(limits.data ?? "", /^<svg /);
  const trend = await client.POST("/v1/plots/{plot}", {
    params: { path: { plot: "trend" }, query: { format: "png" } },
    body: one(trends),
    parseAs: "arrayBuffer",
  });
  const picture: ArrayBuffer | undefined = trend.data;
  assert.ok(picture);
  assert.equal(Buffer.from(picture).subarray(1, 4).toString(), "PNG");
  const report = await client.POST("/v1/reports", {
    params: { query: { audience: "customer" } },
    body: one(diagnoses),
    parseAs: "text",
  });
  assert.match(report.data ?? "", /^<!doctype html>/i);
});

for (const [detail, answers] of Object.entries(lines.answers)) {
  test(`a batch, ${detail}`, async () => {
    const { data } = await client.POST("/v1/batches", {
      params: { query: { detail: detail === "grades" ? "grades" : "full" } },
      headers: { "Content-Type": "application/x-ndjson" },
      body: lines.sent.map((line) => JSON.stringify(line) + "\n").join(""),
      bodySerializer: (text: string) => text,
      parseAs: "text",
    });
    const answered = (data ?? "").trimEnd().split("\n").map((line) => JSON.parse(line) as BatchAnswerLine);
    assert.deepEqual(answered, answers);
    const last = answered.at(-1);
    assert.ok(last && "summary" in last && last.summary.complete);
  });
}

test("what is refused comes as a problem", async () => {
  const { data, error, response } = await client.POST("/v1/assessments", {
    body: { units: "imperial", run: { readings: { suction_pressure: 9999 } } },
  });
  assert.equal(data, undefined);
  assert.equal(response.status, 422);
  const problem: Problem | undefined = error;
  assert.equal(problem?.errors[0]?.pointer, "/run/readings/suction_pressure");
  assert.equal(problem?.errors[0]?.value, 9999);

  const missing = await client.GET("/v1/refrigerants/{designation}", {
    params: { path: { designation: "R-1" }, query: { units: "metric" } },
  });
  assert.equal(missing.error?.status, 404);
});

/** Never called: the compiler must refuse each of these, or it refuses the line that expects it to. */
export async function wrong(answer: Assessment): Promise<void> {
  // @ts-expect-error: a misspelt reading.
  await client.POST("/v1/assessments", { body: { units: "imperial", run: { readings: { suction_presure: 124 } } } });
  // @ts-expect-error: a unit of another quantity.
  await client.POST("/v1/assessments", { body: { units: "imperial", run: { readings: { airflow: { value: 1, unit: "psi" } } } } });
  // @ts-expect-error: no unit system.
  await client.POST("/v1/assessments", { body: { run: { readings: {} } } });
  // @ts-expect-error: one run where there must be two.
  await client.POST("/v1/comparisons", { body: { units: "imperial", runs: { before: { readings: {} } } } });
  // @ts-expect-error: a misspelt address.
  await client.POST("/v1/assesments", { body: { units: "imperial", run: { readings: {} } } });
  // @ts-expect-error: a picture that there is none of.
  await client.POST("/v1/plots/{plot}", { params: { path: { plot: "limit" } }, body: { units: "imperial", run: { readings: {} } } });
  // @ts-expect-error: a parameter that is needed.
  await client.GET("/v1/refrigerants");
  // @ts-expect-error: an answer's field, misspelt.
  answer.finding;
  // @ts-expect-error: a value that may not have been derived.
  answer.derived["superheat"].value;
  // @ts-expect-error: a grade that there is none of.
  answer.findings[0]?.grade === "passed";
}

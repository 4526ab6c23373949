"""Titles of published sources by the key that pages cite. All are from memory; one that is not sure is left out."""

from __future__ import annotations

from collections.abc import Mapping

TITLES: Mapping[str, str] = {
    "Bell and McCaffrey 2002": "Bias reduction in standard errors for linear regression with multi-stage samples",
    "Brookmeyer and Crowley 1982": "A confidence interval for the median survival time",
    "Bross 1958": "How to use ridit analysis",
    "Brown, Cai and DasGupta 2001": "Interval estimation for a binomial proportion",
    "Buckland et al. 1997": "Model selection: an integral part of inference",
    "Clopper and Pearson 1934": "The use of confidence or fiducial limits illustrated in the case of the binomial",
    "Coolbear et al. 1984": "The effect of low temperature pre-sowing treatment on the germination performance and membrane integrity of artificially aged tomato seeds",
    "Currie 1968": "Limits for qualitative detection and quantitative determination. Application to radiochemistry",
    "De Gruttola and Lagakos 1989": "Analysis of doubly-censored survival data, with application to AIDS",
    "Dunn and Smyth 1996": "Randomized quantile residuals",
    "Ellis and Roberts 1980": "Improved equations for the prediction of seed longevity",
    "Ellis and Roberts 1981": "The quantification of ageing and survival in orthodox seeds",
    "Farooq et al. 2005": "Thermal hardening: a new seed vigor enhancement tool in rice",
    "Fieller 1954": "Some problems in interval estimation",
    "Fisher 1935": "The logic of inductive inference",
    "Garcia-Huidobro et al. 1982": "Time, temperature and germination of pearl millet (Pennisetum typhoides S. & H.). I. Constant temperature",
    "Holm 1979": "A simple sequentially rejective multiple test procedure",
    "Kaplan and Meier 1958": "Nonparametric estimation from incomplete observations",
    "Kotowski 1926": "Temperature relations to germination of vegetable seed",
    "Kullback and Leibler 1951": "On information and sufficiency",
    "Lancaster 1961": "Significance tests in discrete distributions",
    "Lindstrom and Bates 1990": "Nonlinear mixed effects models for repeated measures data",
    "Maguire 1962": "Speed of germination: aid in selection and evaluation for seedling emergence and vigor",
    "Newcombe 1998": "Interval estimation for the difference between independent proportions: comparison of eleven methods",
    "Peleg 1988": "An empirical model for the description of moisture sorption curves",
    "Ranal and Santana 2006": "How and why to measure the germination process?",
    "Rao and Scott 1981": "The analysis of categorical data from complex sample surveys: chi-squared tests for goodness of fit and independence in two-way tables",
    "Ritz et al. 2013": "Analysis of germination data from agricultural experiments",
    "Turnbull 1976": "The empirical distribution function with arbitrarily grouped, censored and truncated data",
    "Wilks 1941": "Determination of sample sizes for setting tolerance limits",
    "Wilson 1927": "Probable inference, the law of succession, and statistical inference",
    "Youden 1950": "Index for rating diagnostic tests",
    "Zou and Donner 2008": "Construction of confidence limits about effect measures: a general approach",
}

using System.Diagnostics;
using System.Globalization;

namespace Cardassay.Benchmarks;

/// <summary>From the start of the native agent to its first line, beside a program that does nothing but print one: echo of the system's own tools.</summary>
internal static class AgentStart
{
    private const int Starts = 60;
    private const double LimitMilliseconds = 50;

    /// <param name="agent">The native agent, as <c>deploy/agent/publish</c> made it.</param>
    /// <returns>0 when the median is within the limit.</returns>
    public static int Run(string agent)
    {
        List<double> ours = [], echo = [];
        for (int i = 0; i < Starts; i++)
        {
            if (i % 2 == 0)
            {
                ours.Add(FirstLine(agent, "--version"));
                echo.Add(FirstLine("/bin/echo", "1"));
            }
            else
            {
                echo.Add(FirstLine("/bin/echo", "1"));
                ours.Add(FirstLine(agent, "--version"));
            }
        }

        Console.WriteLine("| start to first line, ms: best, median, 90 % | echo | median / median |\n|---|---|---|");
        Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"| {Words(ours)} | {Words(echo)} | {Of(ours, 0.5) / Of(echo, 0.5):0.0} |"));
        return Of(ours, 0.5) <= LimitMilliseconds ? 0 : 1;
    }

    private static double FirstLine(string program, string argument)
    {
        long began = Stopwatch.GetTimestamp();
        using Process process = Process.Start(new ProcessStartInfo(program, argument) { RedirectStandardOutput = true })!;
        string? line = process.StandardOutput.ReadLine();
        double milliseconds = Stopwatch.GetElapsedTime(began).TotalMilliseconds;
        process.StandardOutput.ReadToEnd();
        process.WaitForExit();
        return line is null ? throw new InvalidOperationException($"{program} printed nothing") : milliseconds;
    }

    private static string Words(List<double> times) => string.Create(CultureInfo.InvariantCulture, $"{Of(times, 0):0.0}, {Of(times, 0.5):0.0}, {Of(times, 0.9):0.0}");

    private static double Of(List<double> times, double share) => times.Order().ElementAt((int)(share * (times.Count - 1)));
}

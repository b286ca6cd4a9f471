using Cardassay.Plans;

namespace Cardassay.Agent.Commands;

/// <summary>Finds a plan by built-in name or file.</summary>
internal static class PlanFile
{
    private const long MaxBytes = 1 << 20;

    /// <exception cref="CommandException">No such plan, or it is damaged; names line and key.</exception>
    internal static Plan Load(string nameOrFile)
    {
        if (BuiltInPlans.Find(nameOrFile) is { } builtIn)
        {
            return builtIn;
        }

        string choices = string.Join(", ", BuiltInPlans.Names);
        try
        {
            if (new FileInfo(nameOrFile) is { Exists: true, Length: > MaxBytes })
            {
                throw new CommandException($"--plan {nameOrFile} is larger than 1 MiB, which no plan is.", 2);
            }

            return Parse(File.ReadAllText(nameOrFile), nameOrFile);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            throw new CommandException($"--plan \"{nameOrFile}\" is neither a built-in plan ({choices}) nor a readable file: {e.Message}", 2);
        }
    }

    /// <exception cref="CommandException">The text is damaged; names line and key.</exception>
    internal static Plan Parse(string text, string name)
    {
        try
        {
            return PlanReader.Parse(text, name);
        }
        catch (PlanException e)
        {
            throw new CommandException(e.Message, 2);
        }
    }
}

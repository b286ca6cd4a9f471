using Mono.Cecil;

namespace Cardassay.Architecture.Tests;

/// <summary>
/// The dependency rules of the rooms, read from the compiled assemblies: `shared-core &lt;- proto &lt;- {agent, collector}`, and which
/// room may use what. A rule looks at every type named in signatures, fields, locals and instructions.
/// </summary>
internal static class RoomRules
{
    internal const string SharedCore = "Cardassay.SharedCore";
    internal const string Proto = "Cardassay.Proto";
    internal const string Agent = "cardassay-agent";
    internal const string Collector = "cardassay-collector";

    internal static string RepositoryRoot()
    {
        for (DirectoryInfo? folder = new(AppContext.BaseDirectory); folder is not null; folder = folder.Parent)
        {
            if (File.Exists(Path.Combine(folder.FullName, "Cardassay.slnx")))
            {
                return folder.FullName;
            }
        }

        throw new InvalidOperationException("Cardassay.slnx was not found above the test's folder.");
    }

    internal static AssemblyDefinition Load(string assembly) =>
        AssemblyDefinition.ReadAssembly(Path.Combine(AppContext.BaseDirectory, assembly + ".dll"));

    internal static IReadOnlyList<string> ReferencesOf(string assembly)
    {
        using AssemblyDefinition definition = Load(assembly);
        return [.. definition.MainModule.AssemblyReferences.Select(r => r.Name).Order(StringComparer.Ordinal)];
    }

    /// <summary>Each (user, used) pair of full type names; nested and compiler-made types count as the type they stand in.</summary>
    internal static IEnumerable<(string User, string Used)> Uses(string assembly)
    {
        using AssemblyDefinition definition = Load(assembly);
        foreach (TypeDefinition type in definition.MainModule.GetTypes())
        {
            string user = Outer(type);
            foreach (TypeReference used in Named(type).SelectMany(Parts))
            {
                yield return (user, used.FullName.Split('/')[0]);
            }
        }
    }

    /// <summary>Types with a P/Invoke method.</summary>
    internal static IReadOnlyList<string> ImportersOf(string assembly)
    {
        using AssemblyDefinition definition = Load(assembly);
        return [.. definition.MainModule.GetTypes()
            .Where(t => t.Methods.Any(m => m.IsPInvokeImpl))
            .Select(Outer).Distinct().Order(StringComparer.Ordinal)];
    }

    private static string Outer(TypeDefinition type)
    {
        while (type.DeclaringType is { } outer)
        {
            type = outer;
        }

        return type.FullName;
    }

    private static IEnumerable<TypeReference> Named(TypeDefinition type)
    {
        IEnumerable<TypeReference?> all =
        [
            type.BaseType,
            .. type.Interfaces.Select(i => i.InterfaceType),
            .. type.Fields.Select(f => f.FieldType),
            .. type.Properties.Select(p => p.PropertyType),
            .. type.CustomAttributes.Select(a => a.AttributeType),
        ];
        foreach (MethodDefinition method in type.Methods)
        {
            all = all.Append(method.ReturnType).Concat(method.Parameters.Select(p => p.ParameterType));
            if (!method.HasBody)
            {
                continue;
            }

            all = all.Concat(method.Body.Variables.Select(v => v.VariableType)).Concat(method.Body.Instructions.SelectMany(i => i.Operand switch
            {
                TypeReference t => (IEnumerable<TypeReference?>)[t],
                MethodReference m => [m.DeclaringType, m.ReturnType, .. m.Parameters.Select(p => p.ParameterType)],
                FieldReference f => [f.DeclaringType, f.FieldType],
                _ => [],
            }));
        }

        return all.OfType<TypeReference>();
    }

    private static IEnumerable<TypeReference> Parts(TypeReference type)
    {
        switch (type)
        {
            case GenericInstanceType generic:
                return generic.GenericArguments.SelectMany(Parts).Append(generic.ElementType);
            case TypeSpecification wrapped:
                return Parts(wrapped.ElementType);
            default:
                return [type];
        }
    }
}
